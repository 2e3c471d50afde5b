// What the scan found: two figures large enough for the bench, all of them in a table, and the doubts in sentences.

import { byId, fill, make, symbol } from "../shared/dom.js";
import { hertz, settingText, signed, unitOfFrequency, unitOfWidth, withUncertainty } from "../shared/units.js";

/** @typedef {import("../shared/types.js").Result} Result */

/** @typedef {{value: string, unit: string, spread: string | null}} Told */

/**
 * @typedef {object} Figure
 * @property {string} name
 * @property {Told | null} told null where the data cannot support it
 * @property {string} [nominal]
 */

/**
 * @typedef {object} Nominal
 * @property {number | null} centreHz
 * @property {number | null} widthHz
 */

export class ResultView {
  #host = byId("result", HTMLElement);
  #shown = "";

  /**
   * @param {Result | null} result
   * @param {boolean} final
   * @param {Nominal} nominal
   */
  show(result, final, nominal) {
    const { curve: _, evidence: __, ...told } = result ?? { curve: null };
    const key = JSON.stringify([result === null, told, final, nominal]);
    // Written anew only where something differs: a person may be reading or copying it.
    if (key === this.#shown) return;
    this.#shown = key;
    this.#host.classList.toggle("result--partial", !final);
    if (result === null) fill(this.#host);
    else fill(this.#host, ...parts(result, final, nominal));
  }
}

/**
 * @param {Result} result
 * @param {boolean} final
 * @param {Nominal} nominal
 */
function parts(result, final, nominal) {
  const figures = figuresOf(result, nominal);
  return [headline(figures, final), table(figures, result), doubts(result.doubts ?? [])];
}

/**
 * One sentence for a screen reader or a chart's description.
 * @param {Result | null} result
 * @returns {string}
 */
export function resultSentence(result) {
  if (result === null) return "No result.";
  const [, centre, width] = figuresOf(result, { centreHz: null, widthHz: null });
  const parts = [centre, width].map((figure) => `${figure?.name} ${figure?.told ? spoken(figure.told) : "not known"}`);
  const count = result.doubts?.length ?? 0;
  return `${parts.join(", ")}${count > 0 ? `, ${count} ${count === 1 ? "doubt" : "doubts"}` : ""}.`;
}

/**
 * @param {Result} result
 * @param {Nominal} nominal
 * @returns {Figure[]}
 */
function figuresOf(result, nominal) {
  return [
    { name: "Peak", told: frequency(result.peak_hz, result.peak_sigma_hz) },
    { name: "Centre", told: frequency(result.centre_hz, result.centre_sigma_hz), ...nominalCentre(nominal.centreHz) },
    { name: "3 dB width", told: width(result.width_3db_hz, result.width_3db_sigma_hz), ...nominalWidth(nominal.widthHz) },
    { name: "6 dB width", told: width(result.width_6db_hz, result.width_6db_sigma_hz) },
    { name: "Loaded Q", told: quality(result.loaded_q, result.loaded_q_sigma) },
  ];
}

/** @param {number | null} hz */
const nominalCentre = (hz) => (hz === null ? {} : { nominal: settingText(hz) });

/**
 * A nominal width often comes from a nominal Q, and is no more exact than that.
 * @param {number | null} hz
 */
const nominalWidth = (hz) => (hz === null ? {} : { nominal: settingText(Number(hz.toPrecision(3))) });

/**
 * @param {number | null | undefined} hz
 * @param {number | null | undefined} sigma
 */
const frequency = (hz, sigma) => (typeof hz === "number" ? hertz(hz, sigma, unitOfFrequency(hz)) : null);

/**
 * @param {number | null | undefined} hz
 * @param {number | null | undefined} sigma
 */
const width = (hz, sigma) => (typeof hz === "number" ? hertz(hz, sigma, unitOfWidth(hz), 4) : null);

/**
 * @param {number | null | undefined} q
 * @param {number | null | undefined} sigma
 */
function quality(q, sigma) {
  if (typeof q !== "number") return null;
  return { ...withUncertainty(q, sigma, 3), unit: "" };
}

/** @param {Told} figure */
function spoken({ value, spread, unit }) {
  return [value, spread === null ? "" : `± ${spread}`, unit].filter((part) => part !== "").join(" ");
}

/**
 * @param {Figure[]} figures
 * @param {boolean} final
 */
function headline(figures, final) {
  const large = figures.filter(({ name }) => name === "Centre" || name === "3 dB width");
  return make("div", { class: "headline" }, ...large.map((figure) => headlineFigure(figure, final)));
}

/**
 * @param {Figure} figure
 * @param {boolean} final
 */
function headlineFigure({ name, told }, final) {
  return make(
    "div",
    { class: "headline__figure" },
    make("p", { class: "headline__name" }, final ? name : `${name}, so far`),
    told === null
      ? make("p", { class: "headline__value headline__value--none" }, "not known")
      : make("p", { class: "headline__value" }, told.value, make("span", { class: "headline__unit" }, told.unit)),
    told?.spread && make("p", { class: "headline__sigma" }, `± ${told.spread} ${told.unit}`.trim()),
  );
}

/**
 * @param {Figure[]} figures
 * @param {Result} result
 */
function table(figures, result) {
  const hasNominal = figures.some(({ nominal }) => nominal !== undefined);
  const heads = ["Figure", "Value", "±, 95 %", ...(hasNominal ? ["Nominal"] : [])];
  return make(
    "table",
    { class: "figures" },
    make("caption", { class: "unseen" }, "Result of the scan"),
    make("thead", {}, make("tr", {}, ...heads.map((head) => make("th", { scope: "col" }, head)))),
    make("tbody", {}, ...figures.map((figure) => figureRow(figure, hasNominal))),
    make("tfoot", {}, ...notes(result).map(([name, text]) => noteRow(name, text, heads.length - 1))),
  );
}

/**
 * @param {Figure} figure
 * @param {boolean} hasNominal
 */
function figureRow({ name, told, nominal }, hasNominal) {
  const cells =
    told === null
      ? [make("td", { colspan: 2, class: "figures__none" }, "not known")]
      : [make("td", {}, `${told.value} ${told.unit}`.trim()), make("td", {}, told.spread === null ? "–" : `± ${told.spread} ${told.unit}`.trim())];
  return make("tr", {}, make("th", { scope: "row" }, name), ...cells, hasNominal && make("td", {}, nominal ?? ""));
}

/**
 * @param {Result} result
 * @returns {[string, string][]}
 */
function notes(result) {
  /** @type {[string, string][]} */
  const rows = [["Model", result.model ?? "none fits"]];
  if (typeof result.noise_db === "number") rows.push(["Noise of one reading", signed(result.noise_db, "dB", 2)]);
  if (typeof result.readings === "number") rows.push(["Readings taken", String(result.readings)]);
  return rows;
}

/**
 * @param {string} name
 * @param {string} text
 * @param {number} columns
 */
function noteRow(name, text, columns) {
  return make("tr", {}, make("th", { scope: "row" }, name), make("td", { colspan: columns, class: "figures__note" }, text));
}

/** @param {string[]} sentences */
function doubts(sentences) {
  if (sentences.length === 0) return null;
  return make(
    "section",
    { class: "doubts", "aria-label": "Doubts" },
    make("h3", {}, symbol("doubt"), sentences.length === 1 ? "One doubt" : `${sentences.length} doubts`),
    make("ul", {}, ...sentences.map((sentence) => make("li", {}, sentence))),
  );
}
