// Reading what a person typed: numbers with or without a unit, decimal point or decimal comma.

import { UNITS } from "./units.js";

const NUMBER = /^([+\-\u2212]?)(\d+(?:[.,]\d*)?|[.,]\d+)$/;

/**
 * A frequency in Hz. A bare number is in kilohertz, the unit beside the field.
 * @param {string} text
 * @returns {number | null} null where it is no frequency
 */
export function parseFrequency(text) {
  const match = /^(.*?)\s*([kM]?hz)?$/i.exec(text.trim());
  if (match === null) return null;
  const number = parseNumber(match[1] ?? "");
  const unit = Object.values(UNITS).find(({ name }) => name.toLowerCase() === (match[2] ?? "kHz").toLowerCase());
  if (number === null || unit === undefined) return null;
  return Number((number * unit.hz).toPrecision(15));
}

/**
 * @param {string} text
 * @param {string} [unit] which may stand after the number
 * @returns {number | null} null where it is no number
 */
export function parseNumber(text, unit = "") {
  const whole = text.replace(/[\s\u202f\u00a0]/g, "");
  const ends = unit !== "" && whole.toLowerCase().endsWith(unit.toLowerCase());
  const bare = ends ? whole.slice(0, -unit.length) : whole;
  const match = NUMBER.exec(bare);
  if (match === null) return null;
  const size = Number((match[2] ?? "").replace(",", "."));
  return match[1] === "-" || match[1] === "\u2212" ? -size : size;
}

/**
 * The text of a frequency for an input field: kilohertz, all digits, nothing that would not be read back.
 * @param {number} hz
 * @returns {string}
 */
export function kilohertzField(hz) {
  return String(Number((hz / 1e3).toPrecision(12)));
}
