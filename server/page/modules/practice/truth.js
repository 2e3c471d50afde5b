// The truth about the simulated receiver, as lists within lists. Hidden until it is asked for.

import { make } from "../shared/dom.js";
import { trimmed } from "../shared/units.js";
import { capital } from "../shared/words.js";

/**
 * @param {Record<string, any>} truth
 * @returns {HTMLElement}
 */
export const truthList = (truth) => make("dl", { class: "truth" }, ...Object.entries(truth).map(([name, value]) => row(name, value)));

/**
 * @param {string} name
 * @param {unknown} value
 */
function row(name, value) {
  const nested = value !== null && typeof value === "object" && !Array.isArray(value);
  const shown = nested ? truthList(/** @type {Record<string, any>} */ (value)) : words(value);
  const title = make("dt", {}, capital(name.replaceAll("_", " ")));
  return make("div", { class: nested ? "truth__group" : "truth__row" }, title, make("dd", {}, shown));
}

/**
 * @param {unknown} value
 * @returns {string}
 */
function words(value) {
  if (value === null || value === undefined) return "–";
  if (typeof value === "number") return trimmed(Number(value.toPrecision(7)));
  if (typeof value === "boolean") return value ? "yes" : "no";
  return Array.isArray(value) ? value.map(words).join("; ") || "none" : String(value);
}
