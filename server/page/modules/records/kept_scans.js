// Scans taken by themselves, each with the way to its chart and its files.

import { csvAddress, jsonAddress, sentence } from "../shared/api.js";
import { make, setText, symbol } from "../shared/dom.js";
import { addressOf } from "../shared/router.js";
import { frequencyText, widthText } from "../shared/units.js";
import { capital, counted, endingWords, moment } from "../shared/words.js";
import { LongList } from "./long_list.js";

/** @typedef {import("../shared/types.js").ScanSummary} ScanSummary */

const AT_FIRST = 100;

export class KeptScans {
  title = "Scans";
  #context;
  #state = make("p", { class: "hint", role: "status" }, "Asking for the kept scans.");
  /** @type {LongList<ScanSummary>} */
  #list = new LongList(AT_FIRST, row);
  element = make("div", { class: "stack stack--wide" }, this.#state, this.#list.element);

  /** @param {import("../page.js").Context} context */
  constructor(context) {
    this.#context = context;
  }

  async read() {
    try {
      this.#show((await this.#context.api.scans()).filter(({ job_id: job }) => (job ?? null) === null));
    } catch (error) {
      setText(this.#state, `The list is not up to date. ${sentence(error)}`);
    }
  }

  /** @param {ScanSummary[]} scans */
  #show(scans) {
    setText(
      this.#state,
      scans.length === 0
        ? "None yet. Every scan is kept, and the first will be listed here."
        : `${counted(scans.length, "scan")}, newest first`,
    );
    this.#list.show(scans);
  }
}

/** @param {ScanSummary} scan */
function row(scan) {
  const { symbol: picture, word } = endingWords(scan.ending);
  const found =
    scan.centre_hz === null
      ? "no centre found"
      : `${frequencyText(scan.centre_hz, scan.centre_sigma_hz)}${scan.width_3db_hz === null ? "" : `, ${widthText(scan.width_3db_hz)} wide`}`;
  const link = (/** @type {string} */ kind, /** @type {string} */ address) =>
    make("a", { href: address, download: true, "aria-label": `${kind} of scan ${scan.id}` }, kind);
  return make(
    "li",
    { class: "record" },
    make(
      "div",
      { class: "record__what" },
      make(
        "a",
        { class: "record__title", href: addressOf(["scans", scan.id]), "data-control": `scan ${scan.id}` },
        capital(scan.target_name),
      ),
      make("p", {}, scan.ending === null ? "being taken" : found),
    ),
    make("p", { class: "record__when hint" }, `${scan.receiver} · ${moment(scan.started_utc)} · scan ${scan.id}`),
    make(
      "p",
      { class: "counts" },
      make("span", { class: "tag", "data-ending": scan.ending ?? "running" }, symbol(picture), word),
      make("span", {}, counted(scan.readings, "reading")),
    ),
    make("div", { class: "record__files" }, link("CSV", csvAddress(scan.id)), link("JSON", jsonAddress(scan.id))),
  );
}
