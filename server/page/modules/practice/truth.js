// The truth about the simulated receiver, as lists within lists. Hidden until it is asked for.

import { make } from "../shared/dom.js";
import { trimmed } from "../shared/units.js";
import { capital, inWords } from "../shared/words.js";

/**
 * @param {Record<string, any>} truth
 * @returns {HTMLElement}
 */
export const truthList = (truth) => make("dl", { class: "truth" }, ...Object.entries(truth).map(([name, value]) => row(name, value)));

/** The units that a field's name may end with, and how they are written. @type {Readonly<Record<string, string>>} */
const UNITS = Object.freeze({ hz: "Hz", khz: "kHz", mhz: "MHz", db: "dB", dbm: "dBm", v: "V", turns: "turns", percent: "%", s: "s" });

/** So much, or more, is no figure that a bench has: no best setting, no limit. */
const NO_FIGURE = 1e9;

/**
 * What a field is called, and the unit its name ends with.
 * @param {string} name
 */
function named(name) {
  const parts = name.split(/[_.]/);
  const unit = UNITS[parts.at(-1) ?? ""];
  const told = unit === undefined || parts.length === 1 ? parts : parts.slice(0, -1);
  return { words: capital(inWords(told.join(" "))), unit: parts.length === 1 ? "" : (unit ?? "") };
}

/**
 * @param {string} name
 * @param {unknown} value
 */
function row(name, value) {
  const nested = value !== null && typeof value === "object" && !Array.isArray(value);
  const { words: told, unit } = named(name);
  const shown = nested ? truthList(/** @type {Record<string, any>} */ (value)) : words(value, unit);
  const title = make("dt", {}, told);
  return make("div", { class: nested ? "truth__group" : "truth__row" }, title, make("dd", {}, shown));
}

/**
 * @param {unknown} value
 * @param {string} [unit]
 * @returns {string}
 */
function words(value, unit = "") {
  if (value === null || value === undefined) return "–";
  if (typeof value === "number") return Math.abs(value) >= NO_FIGURE ? "none" : `${trimmed(Number(value.toPrecision(5)))} ${unit}`.trim();
  if (typeof value === "boolean") return value ? "yes" : "no";
  return Array.isArray(value) ? value.map((each) => words(each, unit)).join("; ") || "none" : String(value);
}
