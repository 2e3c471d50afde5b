// The curves of a step that sweeps: what is read now, over what was found and what was left.

import { ChartPane } from "../chart/pane.js";
import { CURVE_STYLES } from "../chart/theme.js";
import { make } from "../shared/dom.js";
import { resultSentence } from "../scan/result.js";
import { plottedReadings, roughReadings, unusedReadings } from "../scan/record.js";
import { capital, counted } from "../shared/words.js";

/** @typedef {import("../scan/record.js").ScanRecord} ScanRecord */

/**
 * @typedef {object} StepRuns
 * @property {ScanRecord | null} found
 * @property {ScanRecord | null} left
 * @property {ScanRecord | null} now
 * @property {string | null} phase of the run that is on
 * @property {number | null} nominalKhz
 */

/** From so many frequencies on, readings are a curve. */
const LEAST_FREQUENCIES = 4;

export class StepChart {
  #figure = make("figure", { class: "chart", "aria-label": "Chart" });
  element = make("section", { class: "sheet", "aria-labelledby": "step-chart-title", hidden: true }, make("h2", { id: "step-chart-title" }, "Curve"), this.#figure);
  /** @type {ChartPane | null} */
  #pane = null;
  #due = false;
  /** @type {StepRuns | null} */
  #runs = null;
  #shown = "";

  /** @param {StepRuns} runs */
  show(runs) {
    this.#runs = runs;
    if (this.#due) return;
    this.#due = true;
    requestAnimationFrame(() => this.#draw());
  }

  #draw() {
    this.#due = false;
    if (this.#runs === null) return;
    const curves = curvesOf(this.#runs);
    const key = JSON.stringify(curves.map(({ name, record }) => [name, record.id, record.readings.size, record.seq, record.final]));
    if (key === this.#shown) return;
    this.#shown = key;
    this.element.hidden = curves.length === 0;
    if (curves.length === 0) return;
    if (this.#pane === null) {
      this.#pane = new ChartPane(this.#figure, "step-chart");
      this.#pane.prepare();
    }
    this.#pane.show(contentOf(curves, this.#runs.nominalKhz));
  }
}

/** @typedef {{name: string, record: ScanRecord}} NamedCurve */

/**
 * @param {StepRuns} runs
 * @returns {NamedCurve[]}
 */
function curvesOf({ found, left, now, phase }) {
  /** @type {NamedCurve[]} */
  const curves = [];
  if (now !== null && now.id !== found?.id && now.id !== left?.id) curves.push({ name: phase === null ? "now" : `now, ${phase}`, record: now });
  if (left !== null) curves.push({ name: "as left", record: left });
  if (found !== null) curves.push({ name: "as found", record: found });
  return curves.filter(({ record }) => isCurve(record));
}

/** @param {ScanRecord} record */
function isCurve(record) {
  if (record.result?.curve) return true;
  return new Set([...plottedReadings(record), ...roughReadings(record)].map(({ frequency_hz: hz }) => hz)).size >= LEAST_FREQUENCIES;
}

/**
 * @param {NamedCurve[]} curves
 * @param {number | null} nominalKhz
 * @returns {import("../chart/pane.js").ChartContent}
 */
function contentOf(curves, nominalKhz) {
  const nominalHz = nominalKhz === null ? null : nominalKhz * 1e3;
  return {
    scene: {
      curves: curves.map(({ record }) => ({
        readings: plottedReadings(record),
        rough: roughReadings(record),
        silent: unusedReadings(record).filter(({ level_db: level, frequency_hz: hz }) => level === null && hz !== null),
        result: record.result,
      })),
      edgesHz: edges(curves),
      nominalHz,
    },
    description: `Level against frequency. ${curves.map(({ name, record }) => `${capital(name)}: ${counted(plottedReadings(record).length, "reading")}. ${resultSentence(record.result)}`).join(" ")}`,
    key: curves.map(({ name, record }, curve) => ({ sample: /** @type {const} */ ("curve"), curve, text: `${CURVE_STYLES[curve]?.letter}: ${name}, run ${record.id}`, remove: null })),
  };
}

/**
 * @param {NamedCurve[]} curves
 * @returns {[number, number] | null}
 */
function edges(curves) {
  const all = curves.flatMap(({ record }) => [...plottedReadings(record), ...roughReadings(record)].map(({ frequency_hz: hz }) => Number(hz)));
  let low = Infinity;
  let high = -Infinity;
  for (const hz of all) {
    low = Math.min(low, hz);
    high = Math.max(high, hz);
  }
  return low < high ? [low, high] : null;
}
