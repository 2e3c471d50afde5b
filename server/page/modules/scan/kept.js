// The list of kept scans: open one, lay others over it, take them away as files.

import { csvAddress, jsonAddress } from "../shared/api.js";
import { byId, fill, make, setText, symbol } from "../shared/dom.js";
import { CURVE_STYLES, MOST_CURVES } from "../chart/theme.js";
import { focusedControl, refocus } from "../shared/slot.js";
import { frequencyText, widthText } from "../shared/units.js";
import { capital, counted, endingWords, moment } from "../shared/words.js";

/** @typedef {import("../shared/types.js").ScanSummary} ScanSummary */

const AT_FIRST = 20;

/**
 * @typedef {object} KeptActions
 * @property {(id: string) => void} open
 * @property {(id: string, on: boolean) => void} overlay
 */

export class KeptList {
  #list = byId("kept-list", HTMLElement);
  #state = byId("kept-state", HTMLElement);
  #more = byId("kept-more", HTMLButtonElement);
  /** @type {ScanSummary[]} */
  #scans = [];
  /** @type {string[]} */
  #onChart = [];
  #limit = AT_FIRST;
  #actions;

  /** @param {KeptActions} actions */
  constructor(actions) {
    this.#actions = actions;
    this.#more.addEventListener("click", () => {
      this.#limit += AT_FIRST;
      this.#draw();
    });
  }

  /** @param {ScanSummary[]} next newest first */
  show(next) {
    this.#scans = next.filter(({ job_id: job }) => (job ?? null) === null);
    setText(this.#state, this.#scans.length === 0 ? "None yet. Every scan is kept, and the first will be listed here." : "");
    this.#draw();
  }

  /** @param {string} sentence */
  fail(sentence) {
    setText(this.#state, `The list is not up to date. ${sentence}`);
  }

  /** @param {string[]} ids the scans on the chart, the one in view first */
  mark(ids) {
    this.#onChart = ids;
    this.#draw();
  }

  #draw() {
    const focused = focusedControl(this.#list);
    fill(this.#list, ...this.#scans.slice(0, this.#limit).map((scan) => item(scan, this.#onChart, this.#actions)));
    this.#more.hidden = this.#scans.length <= this.#limit;
    refocus(this.#list, focused);
  }
}

/**
 * @param {ScanSummary} scan
 * @param {string[]} onChart
 * @param {KeptActions} actions
 */
function item(scan, onChart, actions) {
  const id = String(scan.id);
  const place = onChart.indexOf(id);
  const title = make("a", { class: "kept__open", href: `#/scans/${encodeURIComponent(id)}`, "data-control": `open ${id}`, "aria-current": place === 0 && "true" }, capital(scan.target_name));
  title.addEventListener("click", (event) => {
    event.preventDefault();
    actions.open(id);
  });
  return make(
    "li",
    { class: "kept__item", "data-scan": id, "data-in-view": place === 0 },
    make("div", { class: "kept__title" }, place >= 0 && onChart.length > 1 && letter(place), title),
    make("p", { class: "kept__when" }, `${scan.receiver}, ${moment(scan.started_utc)}`),
    figures(scan),
    make("div", { class: "kept__actions" }, overlayBox(scan, onChart, actions), ...downloads(scan)),
  );
}

/** @param {number} place */
const letter = (place) => make("span", { class: "letter", style: `color: var(${CURVE_STYLES[place]?.variable})` }, CURVE_STYLES[place]?.letter);

/** @param {ScanSummary} scan */
function figures(scan) {
  const { symbol: picture, word } = endingWords(scan.ending);
  const found =
    scan.centre_hz === null
      ? "no centre found"
      : `${frequencyText(scan.centre_hz, scan.centre_sigma_hz)}${scan.width_3db_hz === null ? "" : `, ${widthText(scan.width_3db_hz)} wide`}`;
  return make(
    "p",
    { class: "kept__figures" },
    make("strong", {}, scan.ending === null ? "being taken" : found),
    make("span", { class: "tag", "data-ending": scan.ending ?? "running" }, symbol(picture), word),
    make("span", {}, counted(scan.readings, "reading")),
  );
}

/**
 * @param {ScanSummary} scan
 * @param {string[]} onChart
 * @param {KeptActions} actions
 */
function overlayBox(scan, onChart, actions) {
  const id = String(scan.id);
  const place = onChart.indexOf(id);
  if (place === 0) return make("span", { class: "kept__overlay" }, "In view");
  const full = place < 0 && onChart.length >= MOST_CURVES;
  const box = make("input", {
    type: "checkbox",
    "data-control": `overlay ${id}`,
    checked: place >= 0,
    disabled: onChart.length === 0 || full,
    "aria-label": `Overlay ${nameOf(scan)}`,
  });
  box.addEventListener("change", () => actions.overlay(id, box.checked));
  return make("label", { class: "kept__overlay" }, box, "Overlay");
}

/** @param {ScanSummary} scan */
function downloads(scan) {
  const link = (/** @type {string} */ kind, /** @type {string} */ address) =>
    make("a", { href: address, download: true, "data-control": `${kind} ${scan.id}`, "aria-label": `${kind} of ${nameOf(scan)}` }, kind);
  return [link("CSV", csvAddress(scan.id)), link("JSON", jsonAddress(scan.id))];
}

/** @param {ScanSummary} scan */
const nameOf = (scan) => `scan ${scan.id}, ${scan.target_name}, ${moment(scan.started_utc)}`;
