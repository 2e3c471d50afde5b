// Figures in words a technician reads: sensible digits, units, and the uncertainty in the last places.

/** @typedef {{name: string, hz: number}} FrequencyUnit */

/** @type {Readonly<Record<"Hz" | "kHz" | "MHz", FrequencyUnit>>} */
export const UNITS = Object.freeze({
  Hz: { name: "Hz", hz: 1 },
  kHz: { name: "kHz", hz: 1e3 },
  MHz: { name: "MHz", hz: 1e6 },
});

/** Receivers call intermediate and broadcast frequencies kilohertz, and short-wave ones megahertz. */
const MEGAHERTZ_FROM = 3e6;

const NARROW_SPACE = "\u202f";
const MINUS = "\u2212";

/** Places beyond which a number says nothing a bench could know. */
const MOST_PLACES = 9;

/**
 * The unit in which a frequency is told.
 * @param {number} hz
 * @returns {FrequencyUnit}
 */
export function unitOfFrequency(hz) {
  if (Math.abs(hz) >= MEGAHERTZ_FROM) return UNITS.MHz;
  return Math.abs(hz) >= 1e3 ? UNITS.kHz : UNITS.Hz;
}

/**
 * The unit in which a width or an uncertainty of a frequency is told.
 * @param {number} hz
 * @returns {FrequencyUnit}
 */
export function unitOfWidth(hz) {
  if (Math.abs(hz) >= 1e6) return UNITS.MHz;
  return Math.abs(hz) >= 1e3 ? UNITS.kHz : UNITS.Hz;
}

/** Standard uncertainties in half of a 95 % interval. */
export const NORMAL_95 = 1.959964;

/**
 * A value and half its 95 % interval, the latter to two significant digits and the value to the same place
 * (JCGM 100:2008, 6.2 and 7.2.6).
 * @param {number} value
 * @param {number | null | undefined} sigma
 * @param {number} [digits] significant digits of the value where there is no uncertainty
 * @returns {{value: string, spread: string | null}}
 */
export function withUncertainty(value, sigma, digits = 6) {
  if (sigma === null || sigma === undefined || !(sigma > 0)) {
    return { value: plain(value, placesFor(value, digits)), spread: null };
  }
  const half = NORMAL_95 * sigma;
  const places = placesFor(half, 2);
  return { value: plain(rounded(value, places), places), spread: plain(rounded(half, places), places) };
}

/**
 * A frequency or width with its uncertainty, in one unit.
 * @param {number} hz
 * @param {number | null | undefined} sigmaHz
 * @param {FrequencyUnit} unit
 * @param {number} [digits]
 * @returns {{value: string, spread: string | null, unit: string}}
 */
export function hertz(hz, sigmaHz, unit, digits = 6) {
  const sigma = sigmaHz === null || sigmaHz === undefined ? null : sigmaHz / unit.hz;
  return { ...withUncertainty(hz / unit.hz, sigma, digits), unit: unit.name };
}

/**
 * A frequency on one line: `455.012 ± 0.023 kHz`.
 * @param {number | null | undefined} hz
 * @param {number | null} [sigmaHz]
 * @returns {string}
 */
export function frequencyText(hz, sigmaHz = null) {
  return hz === null || hz === undefined ? "–" : line(hertz(hz, sigmaHz, unitOfFrequency(hz)));
}

/**
 * A width on one line.
 * @param {number | null | undefined} hz
 * @param {number | null} [sigmaHz]
 * @returns {string}
 */
export function widthText(hz, sigmaHz = null) {
  return hz === null || hz === undefined ? "–" : line(hertz(hz, sigmaHz, unitOfWidth(hz), 4));
}

/**
 * A frequency that was set, not measured: all its digits down to a tenth of a hertz, and none beyond.
 * @param {number} hz
 * @returns {string}
 */
export function settingText(hz) {
  const unit = unitOfFrequency(hz);
  return `${trimmed(Math.round(hz * 10) / 10 / unit.hz)} ${unit.name}`;
}

/**
 * A power or level with its sign.
 * @param {number} value
 * @param {string} unit
 * @param {number} [places]
 * @returns {string}
 */
export function signed(value, unit, places = 1) {
  return `${plain(value, places)} ${unit}`;
}

/**
 * Seconds for a setting: milliseconds below one second.
 * @param {number} seconds
 * @returns {string}
 */
export function secondsText(seconds) {
  return seconds < 1 ? `${trimmed(seconds * 1e3)} ms` : `${trimmed(seconds)} s`;
}

/**
 * A voltage with three to five digits.
 * @param {number} volts
 * @returns {string}
 */
export function voltsText(volts) {
  return Math.abs(volts) < 1 ? `${plain(volts * 1e3, 3)} mV` : `${plain(volts, 5)} V`;
}

/**
 * A number with all the digits it was given, and none that binary arithmetic made up.
 * @param {number} value
 * @returns {string}
 */
export function trimmed(value) {
  return dress(String(Number(value.toPrecision(12))));
}

/** @param {{value: string, spread: string | null, unit: string}} figure */
const line = ({ value, spread, unit }) => (spread === null ? `${value} ${unit}` : `${value} ± ${spread} ${unit}`);

/**
 * How many decimal places show this many significant digits; negative where they end left of the point.
 * @param {number} value
 * @param {number} digits
 * @returns {number}
 */
function placesFor(value, digits) {
  if (value === 0 || !Number.isFinite(value)) return 0;
  // Rounding first: 0.0996 to two digits is 0.10, one place fewer than its own size suggests.
  const size = Math.abs(Number(value.toPrecision(digits)));
  return Math.min(digits - 1 - Math.floor(Math.log10(size)), MOST_PLACES);
}

/**
 * Round to a place left of the point; what is right of it, the writing rounds.
 * @param {number} value
 * @param {number} places
 * @returns {number}
 */
function rounded(value, places) {
  if (places >= 0) return value;
  const step = 10 ** -places;
  return Math.round(value / step) * step;
}

/**
 * @param {number} value
 * @param {number} places
 * @returns {string}
 */
function plain(value, places) {
  return dress(value.toFixed(Math.max(places, 0)));
}

/**
 * Group digits by three on both sides of the point where there are more than four (SI brochure, 5.4.4); a true minus.
 * @param {string} digits
 * @returns {string}
 */
function dress(digits) {
  const [whole = "", decimals = ""] = digits.replace("-", "").split(".");
  const negative = digits.startsWith("-") && /[1-9]/.test(digits);
  const left = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, NARROW_SPACE) : whole;
  const right = decimals.length > 4 ? decimals.replace(/(\d{3})(?=\d)/g, `$1${NARROW_SPACE}`) : decimals;
  return `${negative ? MINUS : ""}${left}${right === "" ? "" : `.${right}`}`;
}
