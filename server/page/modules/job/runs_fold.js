// The runs of a step, each with its files.

import { csvAddress, jsonAddress } from "../shared/api.js";
import { make, symbol } from "../shared/dom.js";
import { addressOf } from "../shared/router.js";
import { Slot } from "../shared/slot.js";
import { counted, endingWords, moment } from "../shared/words.js";

/** @typedef {import("./types.js").StepRun} StepRun */

export class RunsFold {
  #list = new Slot(make("ul", { class: "runs" }));
  #summary = make("summary", {});
  element = make(
    "section",
    { class: "sheet", "aria-label": "Runs of this step", hidden: true },
    make("details", { class: "runs-fold" }, this.#summary, this.#list.element),
  );

  /** @param {StepRun[]} runs in the order they were taken */
  show(runs) {
    this.element.hidden = runs.length === 0;
    this.#summary.textContent = `${counted(runs.length, "run")} of this step, with every reading`;
    this.#list.show(runs, () => [...runs].reverse().map(row));
  }
}

/** @param {StepRun} run */
function row({ id, phase, way, started_utc: at, ending }) {
  const { symbol: picture, word } = endingWords(/** @type {import("../shared/types.js").Ending | null} */ (ending));
  const file = (/** @type {string} */ kind, /** @type {string} */ address) =>
    make("a", { href: address, download: true, "aria-label": `${kind} of run ${id}` }, kind);
  return make(
    "li",
    {},
    make("span", {}, make("strong", {}, `Run ${id}`), ` ${[phase, way, moment(at)].filter(Boolean).join(" · ")}`),
    make("span", { class: "tag", "data-ending": ending ?? "running" }, symbol(picture), word),
    make(
      "span",
      { class: "record__files" },
      make("a", { href: addressOf(["scans", id]), "aria-label": `Readings of run ${id}` }, "Readings"),
      file("CSV", csvAddress(id)),
      file("JSON", jsonAddress(id)),
    ),
  );
}
