// One figure against time, small: open rings as found, filled diamonds as left, whiskers of one sigma.

import { make } from "../shared/dom.js";
import { valueText } from "../job/figures.js";

/** @typedef {import("../job/types.js").HistoryRow} HistoryRow */

const SVG = "http://www.w3.org/2000/svg";
const WIDTH = 320;
const HEIGHT = 120;
const LEFT = 8;
const RIGHT = WIDTH - 8;
const TOP = 12;
const BOTTOM = HEIGHT - 24;

/**
 * @param {HistoryRow[]} rows in order of time, each with a value
 * @param {string} unit
 * @returns {Node}
 */
export function timePicture(rows, unit) {
  const times = rows.map(({ at_utc: at }) => Date.parse(at));
  const lows = rows.map(({ value, sigma }) => Number(value) - (sigma ?? 0));
  const highs = rows.map(({ value, sigma }) => Number(value) + (sigma ?? 0));
  const x = scale(times, LEFT + 8, RIGHT - 8);
  const y = scale([...lows, ...highs], BOTTOM - 8, TOP + 8);
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("class", "time-picture");
  svg.setAttribute("viewBox", `0 0 ${WIDTH} ${HEIGHT}`);
  svg.setAttribute("aria-hidden", "true");
  svg.innerHTML = [
    `<path class="time-picture__frame" d="M${LEFT} ${TOP}V${BOTTOM}H${RIGHT}"/>`,
    zeroLine(y, lows, highs),
    leftLine(rows, x, y, times),
    ...rows.map((row, index) => mark(row, x(times[index] ?? 0), y)),
    ...yearMarks(times),
  ].join("");
  const extremes = `${valueText(Math.max(...highs), null, unit)} at the top, ${valueText(Math.min(...lows), null, unit)} at the foot`;
  return make("div", { class: "time-picture__box" }, svg, make("p", { class: "hint" }, extremes));
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
  const points = rows.flatMap((row, index) => (row.phase === "as left" ? [`${x(times[index] ?? 0)},${y(Number(row.value))}`] : []));
  return points.length > 1 ? `<polyline class="time-picture__line" points="${points.join(" ")}"/>` : "";
}

/**
 * @param {HistoryRow} row
 * @param {number} at
 * @param {(value: number) => number} y
 */
function mark({ value, sigma, phase }, at, y) {
  const middle = y(Number(value));
  const whisker = sigma === null ? "" : `<path class="time-picture__whisker" d="M${at} ${y(Number(value) - sigma)}V${y(Number(value) + sigma)}"/>`;
  const shape = phase === "as left" ? `<path class="limit__left" d="M${at} ${middle - 6}l6 6-6 6-6-6z"/>` : `<circle class="limit__found" cx="${at}" cy="${middle}" r="5"/>`;
  return whisker + shape;
}

/** @param {number[]} times */
function yearMarks(times) {
  const day = (/** @type {number} */ time) => new Date(time).toLocaleDateString(undefined, { month: "short", year: "numeric" });
  const first = day(Math.min(...times));
  const last = day(Math.max(...times));
  const text = (/** @type {number} */ at, /** @type {string} */ anchor, /** @type {string} */ words) => `<text class="time-picture__text" x="${at}" y="${HEIGHT - 6}" text-anchor="${anchor}">${words}</text>`;
  return first === last ? [text(WIDTH / 2, "middle", first)] : [text(LEFT, "start", first), text(RIGHT, "end", last)];
}
