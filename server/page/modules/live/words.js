// Guidance in words and figures a technician reads from two metres.

import { isWithin } from "./ear.js";
import { NORMAL_95, signed, withUncertainty } from "../shared/units.js";
import { capital } from "../shared/words.js";

/** @typedef {import("./types.js").Guidance} Guidance */
/** @typedef {import("./types.js").TurnWay} TurnWay */

const EIGHTHS = Object.freeze(["", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞"]);

/**
 * Turns as they are counted at the bench, in eighths.
 * @param {number} turns without a sign
 * @returns {string}
 */
export function turnsShort(turns) {
  const eighths = Math.round(turns * 8);
  if (eighths === 0) return "< ⅛";
  const whole = Math.floor(eighths / 8);
  return `${whole > 0 ? whole : ""}${EIGHTHS[eighths % 8]}`;
}

/**
 * @param {number} turns without a sign
 * @returns {string}
 */
export function turnsText(turns) {
  if (Math.round(turns * 8) === 0) return "less than ⅛ turn";
  return `${turnsShort(turns)} turn${turns >= 1.0625 ? "s" : ""}`;
}

/** @type {Readonly<Record<string, string>>} */
const ANSWERS = Object.freeze({ cannot: "It does not turn" });

/** @param {string} answer */
export const answerWords = (answer) => ANSWERS[answer] ?? capital(answer);

/** @type {Readonly<Record<Guidance["trend"], {word: string, symbol: string}>>} */
export const TRENDS = Object.freeze({
  nearer: { word: "nearer", symbol: "live-nearer" },
  farther: { word: "farther off", symbol: "live-farther" },
  steady: { word: "steady", symbol: "live-steady" },
  unknown: { word: "not known yet", symbol: "live-steady" },
});

/**
 * The figure the eye goes to: the error where the target is known, the reading where it is not.
 * @param {Guidance} guidance
 * @returns {{label: string, value: string, spread: string, unit: string}}
 */
export function figureOf({ error, value, sigma, unit, gauge, best, full_scale: full }) {
  // On the way to a peak the level itself is the figure, before the peak has been passed and after.
  const byError = error !== null && best === null;
  const number = byError ? Math.abs(error) : value;
  if (number === null) return { label: "Reading", value: "–", spread: "", unit: "" };
  const shown = scaled(number, sigma, unit, Math.max(Math.abs(number), best === null ? 0 : Math.abs(best), unit === "V" ? full : 0));
  if (!byError) return { ...shown, label: gauge === "activity" ? "Activity" : "Level" };
  return { ...shown, label: sideWords(error, unit) };
}

/**
 * @param {number} error
 * @param {string} unit
 */
function sideWords(error, unit) {
  if (error === 0) return "On target";
  if (unit === "Hz") return error > 0 ? "Too high by" : "Too low by";
  return error > 0 ? "Above the target by" : "Below the target by";
}

/**
 * The unit that figures of about this size are told in, and how many of the wire's units it is.
 * @param {string} unit
 * @param {number} size
 * @returns {{name: string, by: number}}
 */
function toldIn(unit, size) {
  if (unit === "Hz" && size >= 1e4) return { name: "kHz", by: 1e3 };
  if (unit !== "V" || size >= 1) return { name: unit, by: 1 };
  return size >= 1e-3 ? { name: "mV", by: 1e-3 } : { name: "µV", by: 1e-6 };
}

/**
 * @param {number} number
 * @param {number | null} sigma
 * @param {string} unit
 * @param {number} [size] of the figures it stands among
 */
function scaled(number, sigma, unit, size = Math.abs(number)) {
  if (unit === "dB") return { value: fixed(number, 2), spread: sigma === null ? "" : `± ${fixed(NORMAL_95 * sigma, 2)}`, unit };
  const { name, by } = toldIn(unit, size);
  // Where nobody has said how sure a figure is, three digits are as many as an eye can follow.
  const told = withUncertainty(number / by, sigma === null ? null : sigma / by, 3);
  return { value: told.value, spread: told.spread === null ? "" : `± ${told.spread}`, unit: name };
}

/**
 * @param {number} number
 * @param {number} places
 */
const fixed = (number, places) => signed(number, "", places).trim();

/**
 * A length on the needle's scale.
 * @param {number} number
 * @param {string} unit
 * @returns {string}
 */
export function scaleText(number, unit) {
  const shown = unit === "dB" ? { value: fixed(number, 1), unit } : scaled(Number(number.toPrecision(3)), null, unit);
  return `${number > 0 ? "+" : ""}${shown.value} ${shown.unit}`;
}

/**
 * Which way to turn, where there is something to turn.
 * @param {Guidance} guidance
 * @returns {string}
 */
export function wayWords({ word, way, trend }) {
  if (word === "hold" || word === "done" || word === "wait") return "";
  if (way !== null) return way;
  if (word !== "turn") return "the other way";
  return trend === "unknown" ? "either way" : "on, the same way";
}

/**
 * The best so far, and how far from it the reading is; null where nothing is known of it.
 * @param {Guidance} guidance
 * @returns {{names: [string, string], best: string, below: string} | null}
 */
export function bestWords({ best, below_best: below, closest = null, error, unit, full_scale: full }) {
  if (best !== null) return { names: ["Best so far", "Below the best"], ...toldBest(best, below, unit, full) };
  if (closest === null || error === null) return null;
  const farther = Math.max(Math.abs(error) - Math.abs(closest), 0);
  return { names: ["Closest so far", "Farther off by"], ...toldBest(closest, farther, unit, full) };
}

/**
 * @param {number} best
 * @param {number | null} below
 * @param {string} unit
 * @param {number} full
 */
function toldBest(best, below, unit, full) {
  const { name, by } = toldIn(unit, Math.max(Math.abs(best), full));
  const places = unit === "dB" ? 1 : Math.max(2 - Math.floor(Math.log10(full / by)), 0);
  return { best: signed(best / by, name, places), below: below === null ? "–" : signed(below / by, name, places) };
}

/**
 * The live area in one sentence, for those who hear the page.
 * @param {Guidance} guidance
 * @returns {string}
 */
export function summaryOf(guidance) {
  const { label, value, unit } = figureOf(guidance);
  const parts = [[capital(guidance.word), wayWords(guidance)].filter(Boolean).join(", ")];
  if (guidance.turns_left !== null) parts.push(`${turnsText(guidance.turns_left)} to go`);
  parts.push(`${label} ${value} ${unit}`.trim());
  if (guidance.below_best !== null) parts.push(`${bestWords(guidance)?.below} below the best`);
  if (isWithin(guidance)) parts.push("within the limit");
  return `${guidance.adjuster}: ${parts.join("; ")}.`;
}
