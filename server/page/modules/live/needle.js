// The needle: a wide track with the good zone drawn on it, and a mark that moves.
//
// Where the target is known it stands in the middle and the mark on the side of the error. Where only the best so far
// is known, the track fills from the left up to the level, and the best stands as a mark that is held.

import { make, setText } from "../shared/dom.js";
import { hide, move, tell } from "./drawing.js";
import { isWithin } from "./ear.js";
import { scaleText } from "./words.js";

/** @typedef {import("./types.js").Guidance} Guidance */

/** Where the best so far stands on the track, so that there is room for a better one. */
const BEST_AT = 0.84;

/** The mark keeps so much of the track between itself and the ends. */
const END = 0.015;

/**
 * @typedef {object} NeedlePlace
 * @property {"signed" | "peak" | "none"} kind
 * @property {number} at where the mark stands, 0 at the left end and 1 at the right
 * @property {-1 | 0 | 1} beyond which end it lies beyond
 * @property {[number, number] | null} zone the good zone
 * @property {number} drift how far the scale has moved under the mark, in scale lengths
 */

/**
 * Where everything stands on the track. Pure.
 * @param {Guidance} guidance
 * @returns {NeedlePlace}
 */
export function placeOf({ error, within, full_scale: full, below_best: below, best }) {
  if (best !== null && below !== null && full > 0) {
    const zone = /** @type {[number, number] | null} */ (
      within === null ? null : [Math.max(BEST_AT * (1 - within / full), 0), 1]
    );
    return { kind: "peak", ...kept(BEST_AT * (1 - below / full)), zone, drift: -(best / full) * BEST_AT };
  }
  if (error === null || !(full > 0)) return { kind: "none", at: 0, beyond: 0, zone: null, drift: 0 };
  const half = within === null ? null : Math.min(within / (2 * full), 0.5);
  const zone = /** @type {[number, number] | null} */ (half === null ? null : [0.5 - half, 0.5 + half]);
  return { kind: "signed", ...kept(0.5 + error / (2 * full)), zone, drift: 0 };
}

/** @param {number} at */
function kept(at) {
  const beyond = /** @type {-1 | 0 | 1} */ (at < 0 ? -1 : at > 1 ? 1 : 0);
  return { at: Math.min(Math.max(at, END), 1 - END), beyond };
}

export class Needle {
  #zone = make("div", { class: "needle__zone" });
  #fill = make("div", { class: "needle__fill" });
  #mark = make("div", { class: "needle__mark" }, make("span", { class: "needle__head" }));
  #best = make("div", { class: "needle__best" }, make("span", {}, "best"));
  #ticks = make("div", { class: "needle__ticks" });
  #left = make("span", {});
  #middle = make("span", {});
  #right = make("span", {});
  #track = make("div", { class: "needle__track" }, this.#ticks, this.#zone, this.#fill, this.#best, this.#mark);
  element = make(
    "div",
    { class: "needle", role: "img", "aria-label": "Needle; no reading yet", "data-kind": "none" },
    this.#track,
    make("div", { class: "needle__scale", "aria-hidden": "true" }, this.#left, this.#middle, this.#right),
  );

  /** @param {Guidance} guidance */
  show(guidance) {
    const { kind, at, beyond, zone, drift } = placeOf(guidance);
    tell(this.element, "kind", kind);
    tell(this.element, "within", isWithin(guidance) ? "yes" : "no");
    tell(this.element, "beyond", String(beyond));
    move(this.#track, "--at", at);
    move(this.#track, "--drift", drift);
    move(this.#track, "--from", zone?.[0] ?? 0);
    move(this.#track, "--to", zone?.[1] ?? 0);
    hide(this.#zone, zone === null);
    this.#scale(kind, guidance);
  }

  clear() {
    tell(this.element, "kind", "none");
    tell(this.element, "within", "no");
    tell(this.element, "beyond", "0");
    for (const end of [this.#left, this.#middle, this.#right]) setText(end, "");
  }

  /** @param {string} summary what a screen reader finds here */
  describe(summary) {
    const label = `Needle. ${summary}`;
    if (this.element.getAttribute("aria-label") !== label) this.element.setAttribute("aria-label", label);
  }

  /**
   * @param {NeedlePlace["kind"]} kind
   * @param {Guidance} guidance
   */
  #scale(kind, { full_scale: full, unit, best }) {
    if (kind === "peak" && best !== null) {
      setText(this.#left, scaleText(best - full, unit).replace("+", ""));
      setText(this.#middle, "");
      setText(this.#right, `best ${scaleText(best, unit).replace("+", "")}`);
      return;
    }
    setText(this.#left, kind === "none" ? "" : scaleText(-full, unit));
    setText(this.#middle, kind === "none" ? "" : "target");
    setText(this.#right, kind === "none" ? "" : scaleText(full, unit));
  }
}
