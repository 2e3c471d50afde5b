// How hard a crystal oscillator runs on each band: its level against the reference band, and the voltage behind it.

import { make, part } from "../shared/dom.js";
import { capital } from "../shared/words.js";
import { figureCell, figureTable, limitCell, verdictCell } from "./figure_table.js";
import { findingText } from "./figures.js";

/** @typedef {import("./types.js").Bands} Bands */
/** @typedef {import("./types.js").BandRow} BandRow */
/** @typedef {import("./types.js").Finding} Finding */

const WIDTH = 132;
const HEIGHT = 22;
/** Of the span of all levels, beyond the outermost. */
const ROOM = 0.12;

/**
 * @param {Bands} bands
 * @returns {Node[]}
 */
export function bandsTable({ against, limit, limit_db: limitDb, rows }) {
  const hasLeft = rows.some(({ activity }) => activity.left !== null);
  const heads = ["Band", "As found", ...(hasLeft ? ["As left"] : []), "Level", "Verdict"];
  const place = scaleOf(rows, limitDb);
  const common = commonReasons(rows);
  const level = (/** @type {Finding | null} */ activity, /** @type {Finding | null} */ volts) =>
    figureCell(common.includes(activity?.reason ?? "") && activity !== null ? { ...activity, reason: null } : (activity ?? volts), ...voltage(volts));
  const lines = rows.map(({ band, volts, activity }) => ({
    head: [make("span", { class: "findings__stacked" }, "Band "), band],
    cells: [
      level(activity.found, volts.found),
      ...(hasLeft ? [level(activity.left, volts.left)] : []),
      limitCell("", levelPicture(activity, limitDb, place)),
      verdictCell(activity.left ?? activity.found),
    ],
  }));
  const told = limit === null ? "" : `; the limit is ${limit}`;
  return [
    make("p", { class: "hint" }, `${capital(against)}${told}. Below each level, the voltage at the test point.`),
    figureTable("Figures of this step", heads, [{ head: "", rows: lines }]),
    ...common.map((reason) => make("p", { class: "hint" }, `Not measured: ${reason}`)),
  ];
}

/**
 * Why levels are missing, where several bands miss theirs for one reason: it is said once.
 * @param {BandRow[]} rows
 * @returns {string[]}
 */
function commonReasons(rows) {
  const missing = rows.flatMap(({ activity }) => [activity.found, activity.left]).filter((each) => each?.value === null);
  const reasons = missing.map((each) => each?.reason ?? "").filter((reason) => reason !== "");
  return [...new Set(reasons)].filter((reason) => reasons.filter((each) => each === reason).length > 1);
}

/** The names of what the table shows, so that it is not shown twice. @param {Bands} bands */
export function namesInBands({ rows }) {
  const all = rows.flatMap(({ volts, activity }) => [volts.found, volts.left, activity.found, activity.left]);
  return new Set(all.flatMap((finding) => (finding === null ? [] : [finding.name])));
}

/** @param {Finding | null} volts */
const voltage = (volts) => (volts === null || volts.value === null ? [] : [findingText(volts)]);

/**
 * One scale for all bands, so that their levels compare.
 * @param {BandRow[]} rows
 * @param {number | null} limitDb
 * @returns {(db: number) => number}
 */
function scaleOf(rows, limitDb) {
  const levels = rows.flatMap(({ activity }) => [activity.found?.value, activity.left?.value, limitDb, 0]);
  const told = levels.filter((level) => typeof level === "number");
  const [low, high] = [Math.min(...told), Math.max(...told)];
  const span = (high - low || 1) * (1 + 2 * ROOM);
  return (db) => ((db - low) / span + ROOM / (1 + 2 * ROOM)) * WIDTH;
}

/**
 * Where the levels of a band lie; words beside it say the same.
 * @param {{found: Finding | null, left: Finding | null}} activity
 * @param {number | null} limitDb
 * @param {(db: number) => number} place
 */
function levelPicture({ found, left }, limitDb, place) {
  const middle = HEIGHT / 2;
  const edge = limitDb === null ? null : place(limitDb);
  const at = (/** @type {Finding | null} */ finding) =>
    finding === null || finding.value === null ? null : place(finding.value);
  const [ring, diamond] = [at(found), at(left)];
  return part(
    "svg",
    { class: "limit", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, "aria-hidden": "true" },
    edge !== null &&
      part("rect", { class: "limit__zone", x: edge, y: 4, width: WIDTH - edge, height: HEIGHT - 8, rx: 2 }),
    part("path", { class: "limit__line", d: `M2 ${middle}H${WIDTH - 2}` }),
    edge !== null && part("path", { class: "limit__edge", d: `M${edge} 2V${HEIGHT - 2}` }),
    ring !== null && part("circle", { class: "limit__found", cx: ring, cy: middle, r: 5.5 }),
    diamond !== null && part("path", { class: "limit__left", d: `M${diamond} ${middle - 7}l7 7-7 7-7-7z` }),
  );
}
