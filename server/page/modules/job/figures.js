// A measured figure in words, and where it lies to its limit as a small picture.

import { make, part } from "../shared/dom.js";
import { trimmed, withUncertainty } from "../shared/units.js";

/** @typedef {import("./types.js").Finding} Finding */

/**
 * @param {Finding} finding
 * @returns {string}
 */
export function findingText({ value, sigma, unit }) {
  if (value === null) return "not measured";
  return valueText(value, sigma, unit);
}

/**
 * @param {number} value
 * @param {number | null} sigma
 * @param {string} unit
 */
export function valueText(value, sigma, unit) {
  const scale = unit === "V" ? voltScale(value, sigma) : { per: 1, unit: shortUnit(unit) };
  const told = withUncertainty(value * scale.per, sigma === null ? null : sigma * scale.per, 4);
  return `${told.value}${told.sigma === null ? "" : ` ± ${told.sigma}`} ${scale.unit}`.trim();
}

/** @type {readonly {per: number, unit: string}[]} */
const VOLT_SCALES = Object.freeze([
  { per: 1, unit: "V" },
  { per: 1e3, unit: "mV" },
  { per: 1e6, unit: "µV" },
]);

/**
 * The unit in which a voltage has digits before its point.
 * @param {number} value
 * @param {number | null} sigma
 */
function voltScale(value, sigma) {
  const size = Math.max(Math.abs(value), sigma ?? 0);
  const fits = VOLT_SCALES.find(({ per }) => size * per >= 1);
  return fits ?? { per: 1e6, unit: "µV" };
}

/** @param {Finding} finding */
export const limitText = ({ limit, unit }) =>
  limit === null ? "no limit" : `${trimmed(limit)} ${shortUnit(unit)}`.trim();

/** @param {Finding} finding */
export const nameText = (finding) => [finding.name, finding.where].filter((part) => part !== "").join(", ");

/** A share is told as a share; of what, its name or its limit says. @param {string} unit */
const shortUnit = (unit) => (unit.startsWith("% of ") ? "%" : unit);

/** What a share is of, where the unit says. @param {string} unit */
export const shareOf = (unit) => (unit.startsWith("% of ") ? unit.slice(2) : null);

/** A sentence of the service as it is printed well, with a true minus. @param {string} text */
export const printed = (text) => text.replaceAll(" +- ", " ± ").replace(/(^|[\s(±])-(?=\d)/g, "$1\u2212");

/**
 * How far an adjuster was turned in all. A pointer and a knob are moved by the unit of their scale.
 * @param {number | null} turns
 * @param {string} kind of the adjuster
 */
export function turnsText(turns, kind) {
  if (turns === null) return "as guided; the turns were not counted";
  if (turns === 0) return "back to where it was";
  const far = trimmed(Number(Math.abs(turns).toFixed(2)));
  const way = turns > 0 ? "clockwise" : "anticlockwise";
  return /pointer|knob/.test(kind)
    ? `${far} of its scale ${turns > 0 ? "up" : "down"} in all`
    : `${far} ${far === "1" ? "turn" : "turns"} ${way} in all`;
}

const WIDTH = 132;
const HEIGHT = 22;
/** The limit stands this far from the middle, so that as much again beyond it can be seen. */
const LIMIT_AT = WIDTH / 4;

/**
 * Where figures lie between the limits: as found an open ring, as left a filled diamond. Words beside it say the same.
 * @param {Finding | null} found
 * @param {Finding | null} left
 * @returns {SVGSVGElement | null} null where there is nothing to place
 */
export function limitPicture(found, left) {
  const rings = [place(found), place(left)];
  if (rings.every((at) => at === null)) return null;
  const svg = part("svg", { class: "limit", "aria-hidden": "true", viewBox: `0 0 ${WIDTH} ${HEIGHT}` });
  const [ring, diamond] = rings;
  const middle = HEIGHT / 2;
  svg.innerHTML = [
    `<rect class="limit__zone" x="${WIDTH / 2 - LIMIT_AT}" y="4" width="${2 * LIMIT_AT}" height="${HEIGHT - 8}" rx="2"/>`,
    `<path class="limit__line" d="M2 ${middle}H${WIDTH - 2}M${WIDTH / 2} 4V${HEIGHT - 4}"/>`,
    `<path class="limit__edge" d="M${WIDTH / 2 - LIMIT_AT} 2V${HEIGHT - 2}M${WIDTH / 2 + LIMIT_AT} 2V${HEIGHT - 2}"/>`,
    typeof ring === "number" ? `<circle class="limit__found" cx="${ring}" cy="${middle}" r="5.5"/>` : "",
    typeof diamond === "number" ? `<path class="limit__left" d="M${diamond} ${middle - 7}l7 7-7 7-7-7z"/>` : "",
  ].join("");
  return svg;
}

/** @param {Finding | null} finding */
function place(finding) {
  if (finding === null || finding.value === null || finding.limit === null || !(finding.limit > 0)) return null;
  const at = WIDTH / 2 + (finding.value / finding.limit) * LIMIT_AT;
  return Math.min(Math.max(at, 8), WIDTH - 8);
}

/** What the two marks of the picture mean. */
export function limitKey() {
  const sample = (/** @type {string} */ shape) => {
    const svg = part("svg", { class: "limit limit--sample", "aria-hidden": "true", viewBox: "0 0 16 16" });
    svg.innerHTML = shape;
    return svg;
  };
  return make(
    "p",
    { class: "limit-key hint" },
    make("span", {}, sample('<circle class="limit__found" cx="8" cy="8" r="5.5"/>'), "as found"),
    make("span", {}, sample('<path class="limit__left" d="M8 1l7 7-7 7-7-7z"/>'), "as left"),
    make(
      "span",
      {},
      sample('<rect class="limit__zone" x="1" y="3" width="14" height="10" rx="2"/>'),
      "within the limit",
    ),
  );
}
