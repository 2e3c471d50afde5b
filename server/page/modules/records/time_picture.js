// One figure against time, small: open rings as found, filled diamonds as left, whiskers of one sigma.

import { part } from "../shared/dom.js";
import { withUncertainty } from "../shared/units.js";

/** @typedef {import("../job/types.js").HistoryRow} HistoryRow */

const WIDTH = 320;
const HEIGHT = 120;
const LEFT = 62;
const RIGHT = WIDTH - 8;
const TOP = 12;
const BOTTOM = HEIGHT - 24;
/** Two labels of the level axis stand at least so far apart. */
const LABEL_GAP = 16;

/**
 * @param {HistoryRow[]} rows in order of time, each with a value
 * @param {string} unit
 * @returns {SVGSVGElement}
 */
export function timePicture(rows, unit) {
  const times = rows.map(({ at_utc: at }) => Date.parse(at));
  const lows = rows.map(({ value, sigma }) => Number(value) - (sigma ?? 0));
  const highs = rows.map(({ value, sigma }) => Number(value) + (sigma ?? 0));
  const x = scale(times, LEFT + 8, RIGHT - 8);
  const y = scale([...lows, ...highs], BOTTOM - 8, TOP + 8);
  const svg = part("svg", { class: "time-picture", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, "aria-hidden": "true" });
  svg.innerHTML = [
    `<path class="time-picture__frame" d="M${LEFT} ${TOP}V${BOTTOM}H${RIGHT}"/>`,
    zeroLine(y, lows, highs),
    leftLine(rows, x, y, times),
    ...rows.map((row, index) => mark(row, x(times[index] ?? 0), y)),
  ].join("");
  svg.append(...valueMarks(y, lows, highs, unit), ...yearMarks(times));
  return svg;
}

/**
 * @param {number[]} values
 * @param {number} from where the least stands
 * @param {number} to where the greatest stands
 * @returns {(value: number) => number}
 */
function scale(values, from, to) {
  const low = Math.min(...values);
  const high = Math.max(...values);
  return (value) => (high > low ? from + ((value - low) / (high - low)) * (to - from) : (from + to) / 2);
}

/**
 * @param {(value: number) => number} y
 * @param {number[]} lows
 * @param {number[]} highs
 */
function zeroLine(y, lows, highs) {
  const inside = Math.min(...lows) <= 0 && Math.max(...highs) >= 0;
  return inside ? `<path class="time-picture__zero" d="M${LEFT} ${y(0)}H${RIGHT}"/>` : "";
}

/**
 * The figure as it was left, from job to job.
 * @param {HistoryRow[]} rows
 * @param {(value: number) => number} x
 * @param {(value: number) => number} y
 * @param {number[]} times
 */
function leftLine(rows, x, y, times) {
  const points = rows.flatMap((row, index) =>
    row.phase === "as left" ? [`${x(times[index] ?? 0)},${y(Number(row.value))}`] : [],
  );
  return points.length > 1 ? `<polyline class="time-picture__line" points="${points.join(" ")}"/>` : "";
}

/**
 * @param {HistoryRow} row
 * @param {number} at
 * @param {(value: number) => number} y
 */
function mark({ value, sigma, phase }, at, y) {
  const middle = y(Number(value));
  const whisker =
    sigma === null
      ? ""
      : `<path class="time-picture__whisker" d="M${at} ${y(Number(value) - sigma)}V${y(Number(value) + sigma)}"/>`;
  const shape =
    phase === "as left"
      ? `<path class="limit__left" d="M${at} ${middle - 6}l6 6-6 6-6-6z"/>`
      : `<circle class="limit__found" cx="${at}" cy="${middle}" r="5"/>`;
  return whisker + shape;
}

/**
 * The least, the greatest and nothing, where they stand apart.
 * @param {(value: number) => number} y
 * @param {number[]} lows
 * @param {number[]} highs
 * @param {string} unit
 */
function valueMarks(y, lows, highs, unit) {
  const low = Math.min(...lows);
  const high = Math.max(...highs);
  const values = high > low ? [low, high] : [low];
  if (low < 0 && high > 0 && Math.min(y(low) - y(0), y(0) - y(high)) > LABEL_GAP) values.push(0);
  const text = (/** @type {number} */ value) =>
    `${withUncertainty(value, null, 2).value}${value === high ? ` ${unit}` : ""}`;
  return values.map((value) => words(LEFT - 6, y(value) + 4, "end", text(value)));
}

/** @param {number[]} times */
function yearMarks(times) {
  const day = (/** @type {number} */ time) =>
    new Date(time).toLocaleDateString(undefined, { month: "short", year: "numeric" });
  const first = day(Math.min(...times));
  const last = day(Math.max(...times));
  const foot = HEIGHT - 6;
  return first === last
    ? [words((LEFT + RIGHT) / 2, foot, "middle", first)]
    : [words(LEFT, foot, "start", first), words(RIGHT, foot, "end", last)];
}

/**
 * @param {number} x
 * @param {number} y
 * @param {"start" | "middle" | "end"} anchor
 * @param {string} text
 */
function words(x, y, anchor, text) {
  return part("text", { class: "time-picture__text", x, y, "text-anchor": anchor }, text);
}
