// The errors of a dial over its scale: open rings as found, filled diamonds as left, the limit as a band.

import { make, part } from "../shared/dom.js";
import { ticksBetween } from "../shared/ticks.js";
import { trimmed } from "../shared/units.js";
import { valueText } from "./figures.js";

/** @typedef {import("./types.js").DialErrors} DialErrors */
/** @typedef {import("./types.js").DialMark} DialMark */

const HEIGHT = 250;
const NARROWEST = 240;
const LEFT = 48;
const RIGHT = 14;
const TOP = 26;
const BOTTOM = 46;
/** Of the height or width, beyond the outermost figure or limit. */
const ROOM = 0.12;
/** So many sigmas a whisker reaches to either side. */
const WHISKER_SIGMAS = 2;
/** Pixels from one label to the next, at least. */
const LABEL_WIDTH = 64;
const LABEL_HEIGHT = 34;

/** @typedef {{x: (khz: number) => number, y: (khz: number) => number, width: number, marks: number[], errors: number[], scale: [number, number]}} Frame */

/**
 * @param {DialErrors} dial
 * @returns {HTMLElement}
 */
export function dialPicture(dial) {
  const svg = part("svg", { class: "dial-picture", role: "img", "aria-label": description(dial) });
  let drawn = 0;
  // Drawn for the width it has, so that its words stay as large on a phone as beside a keyboard.
  new ResizeObserver(([entry]) => {
    const width = Math.max(Math.round(entry?.contentRect.width ?? 0), NARROWEST);
    if (width !== drawn) draw(svg, dial, (drawn = width));
  }).observe(svg);
  return make(
    "figure",
    { class: "dial-figure" },
    svg,
    make(
      "figcaption",
      { class: "hint" },
      `Above nought the receiver is higher than its dial says, below it lower; the band is the limit of ${trimmed(dial.limit_khz)} kHz either way. Bars, where they can be seen, are twice the uncertainty.`,
    ),
  );
}

/** @param {DialErrors} dial */
function description({ found, left, limit_khz: limit }) {
  const say = (/** @type {DialMark} */ { mark_khz: mark, error_khz: error, sigma_khz: sigma }) =>
    `${valueText(error, sigma, "kHz")} at ${trimmed(mark)} kHz`;
  const series = [["As found", found], ["As left", left]].flatMap(([when, marks]) =>
    Array.isArray(marks) && marks.length > 0 ? [`${when}: ${marks.map(say).join(", ")}.`] : [],
  );
  return `Dial error over the scale, limit ${trimmed(limit)} kHz either way. ${series.join(" ")}`;
}

/**
 * @param {SVGSVGElement} svg
 * @param {DialErrors} dial
 * @param {number} width
 */
function draw(svg, dial, width) {
  const frame = frameOf(dial, width);
  svg.setAttribute("viewBox", `0 0 ${width} ${HEIGHT}`);
  svg.replaceChildren(
    ...zone(frame, dial.limit_khz),
    ...grid(frame),
    ...series(frame, dial.found, "found"),
    ...series(frame, dial.left, "left"),
  );
}

/**
 * @param {DialErrors} dial
 * @param {number} width
 * @returns {Frame}
 */
function frameOf({ found, left, limit_khz: limit }, width) {
  const all = [...found, ...left];
  const told = all.map(({ mark_khz: mark }) => mark);
  const marks = spread(told);
  const errors = spread([...all.map(({ error_khz: error }) => error), limit, -limit]);
  return {
    x: scale(marks, LEFT, width - RIGHT),
    y: scale(errors, HEIGHT - BOTTOM, TOP),
    width,
    marks,
    errors,
    scale: [Math.min(...told), Math.max(...told)],
  };
}

/**
 * The ends of a scale that holds these values with room to spare.
 * @param {number[]} values
 * @returns {[number, number]}
 */
function spread(values) {
  const low = Math.min(...values);
  const high = Math.max(...values);
  const room = (high - low) * ROOM || 1;
  return [low - room, high + room];
}

/**
 * @param {number[]} ends
 * @param {number} from where the least stands
 * @param {number} to where the greatest stands
 * @returns {(value: number) => number}
 */
function scale([low = 0, high = 1], from, to) {
  return (value) => from + ((value - low) / (high - low)) * (to - from);
}

/**
 * @param {Frame} frame
 * @param {number} limit
 */
function zone({ x, y, marks: [low = 0, high = 1] }, limit) {
  const [left, right, top, bottom] = [x(low), x(high), y(limit), y(-limit)];
  return [
    part("rect", { class: "limit__zone", x: left, y: top, width: right - left, height: bottom - top }),
    part("path", { class: "limit__edge", d: `M${left} ${top}H${right}M${left} ${bottom}H${right}` }),
  ];
}

/** @param {Frame} frame */
function grid({ x, y, width, marks, errors, scale: [first, last] }) {
  const [left, right, bottom] = [LEFT, width - RIGHT, HEIGHT - BOTTOM];
  const upright = ticksBetween(marks, (right - left) / LABEL_WIDTH).filter((tick) => tick >= first && tick <= last);
  const level = ticksBetween(errors, (bottom - TOP) / LABEL_HEIGHT);
  return [
    part("path", { class: "dial-picture__grid", d: level.map((tick) => `M${left} ${y(tick)}H${right}`).join("") }),
    part("path", { class: "dial-picture__zero", d: `M${left} ${y(0)}H${right}` }),
    part("path", { class: "dial-picture__frame", d: `M${left} ${TOP}V${bottom}H${right}` }),
    ...upright.map((tick) => words(x(tick), bottom + 18, "middle", trimmed(tick))),
    ...level.map((tick) => words(left - 7, y(tick) + 4, "end", trimmed(tick))),
    words((left + right) / 2, HEIGHT - 6, "middle", "dial mark, kHz"),
    words(left - 7, TOP - 12, "start", "dial error, kHz"),
  ];
}

/**
 * @param {Frame} frame
 * @param {DialMark[]} marks
 * @param {"found" | "left"} when
 */
function series({ x, y }, marks, when) {
  const points = marks.map(({ mark_khz: mark, error_khz: error }) => [x(mark), y(error)]);
  return [
    part("polyline", { class: `dial-picture__line dial-picture__line--${when}`, points: points.join(" ") }),
    ...marks.map(({ mark_khz: mark, error_khz: error, sigma_khz: sigma }) => {
      const reach = WHISKER_SIGMAS * (sigma ?? 0);
      return part("path", { class: "dial-picture__whisker", d: `M${x(mark)} ${y(error - reach)}V${y(error + reach)}` });
    }),
    ...points.map(([at = 0, height = 0]) =>
      when === "left"
        ? part("path", { class: "limit__left", d: `M${at} ${height - 7}l7 7-7 7-7-7z` })
        : part("circle", { class: "limit__found", cx: at, cy: height, r: 5 }),
    ),
  ];
}

/**
 * @param {number} x
 * @param {number} y
 * @param {"start" | "middle" | "end"} anchor
 * @param {string} text
 */
function words(x, y, anchor, text) {
  return part("text", { class: "dial-picture__text", x, y, "text-anchor": anchor }, text);
}
