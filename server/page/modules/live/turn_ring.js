// The ring beside the word: an arrow around it the way to turn, as long as the turn is, and the turns in its middle.

import { part, setText } from "../shared/dom.js";
import { turnsShort } from "./words.js";

/** @typedef {import("./types.js").TurnWay} TurnWay */
/** @typedef {"arrow" | "either" | "on" | "back" | "hold" | "done" | "wait"} RingKind */

const RADIUS = 40;

/** The arrow is drawn no shorter and no longer than this, in degrees: it must show its way. */
const SHORTEST = 70;
const LONGEST = 315;

/** Half a turn is drawn where it is not known how far. */
const UNKNOWN_TURNS = 0.5;

/**
 * @typedef {object} RingState
 * @property {RingKind} kind
 * @property {TurnWay | null} way
 * @property {number | null} turns
 */

export class TurnRing {
  #arc = part("path", { class: "ring__arc" });
  #head = part("path", { class: "ring__head" });
  #sign = part("path", { class: "ring__sign" });
  #text = part("text", { class: "ring__text", x: "0", y: "0" });
  element = part("svg", { class: "ring", viewBox: "-56 -56 112 112", "aria-hidden": "true" });
  #shown = "";

  constructor() {
    const round = part("circle", { class: "ring__round", r: String(RADIUS) });
    this.element.append(round, this.#arc, this.#head, this.#sign, this.#text);
  }

  /** @param {RingState} state */
  show({ kind, way, turns }) {
    const text = kind === "arrow" && turns !== null ? turnsShort(turns) : "";
    const sweep = Math.round(Math.min(Math.max((turns ?? UNKNOWN_TURNS) * 360, SHORTEST), LONGEST));
    const key = `${kind} ${way} ${text} ${sweep}`;
    if (key === this.#shown) return;
    this.#shown = key;
    this.element.dataset.kind = kind;
    this.element.dataset.wide = text.length > 2 ? "yes" : "no";
    setText(this.#text, text);
    /** @type {[number, TurnWay][]} */
    const arrows =
      kind === "either"
        ? [
            [120, "clockwise"],
            [120, "anticlockwise"],
          ]
        : kind === "arrow" && way !== null
          ? [[sweep, way]]
          : [];
    this.#arc.setAttribute("d", arrows.map(([degrees, side]) => arc(degrees, side)).join(""));
    this.#head.setAttribute("d", arrows.map(([degrees, side]) => arrowHead(degrees, side)).join(""));
    this.#sign.setAttribute("d", SIGNS[kind]);
  }
}

/** What stands in the ring where nothing is to be turned. */
const SIGNS = Object.freeze({
  arrow: "",
  either: "",
  on: "M-20 -19L-2 0L-20 19M2 -19L20 0L2 19",
  back: "M18 22V-2A17 17 0 0 0 -16 -2V16M-29 4L-16 18L-3 4",
  hold: "M-4 0a4 4 0 108 0a4 4 0 10-8 0",
  done: "M-20 1L-6 16L21 -15",
  wait: "M-16 0h.1M0 0h.1M16 0h.1",
});

/**
 * @param {number} degrees clockwise from the top
 * @param {number} radius
 */
function point(degrees, radius) {
  const angle = (degrees / 180) * Math.PI;
  return [radius * Math.sin(angle), -radius * Math.cos(angle)].map((each) => each.toFixed(2)).join(" ");
}

/**
 * @param {number} sweep
 * @param {TurnWay} way
 */
function arc(sweep, way) {
  const sign = way === "clockwise" ? 1 : -1;
  return `M${point(0, RADIUS)}A${RADIUS} ${RADIUS} 0 ${sweep > 180 ? 1 : 0} ${sign > 0 ? 1 : 0} ${point(sign * sweep, RADIUS)}`;
}

/**
 * @param {number} sweep
 * @param {TurnWay} way
 */
function arrowHead(sweep, way) {
  const sign = way === "clockwise" ? 1 : -1;
  const end = sign * sweep;
  return `M${point(end, RADIUS - 15)}L${point(end + sign * 30, RADIUS)}L${point(end, RADIUS + 15)}Z`;
}
