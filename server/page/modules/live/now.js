// What to do now: the word and its arrow, the needle, and the figures.

import { make, setText, symbol } from "../shared/dom.js";
import { capital } from "../shared/words.js";
import { hide, tell } from "./drawing.js";
import { Needle } from "./needle.js";
import { TurnRing } from "./turn_ring.js";
import { TRENDS, bestWords, figureOf, turnsText, wayWords } from "./words.js";

/** @typedef {import("./types.js").Guidance} Guidance */
/** @typedef {import("./turn_ring.js").RingKind} RingKind */

/** @type {Readonly<Record<Guidance["word"], RingKind>>} */
const RINGS = Object.freeze({
  turn: "arrow",
  "turn back": "arrow",
  "past it": "arrow",
  hold: "hold",
  done: "done",
  wait: "wait",
});

export class Now {
  #adjuster = make("h3", { class: "now__adjuster" });
  #gauge = make("p", { class: "now__gauge" });
  #ring = new TurnRing();
  #word = make("p", { class: "now__word" });
  #way = make("p", { class: "now__way" });
  #sentence = make("p", { class: "now__sentence" });
  #needle = new Needle();
  #label = make("dt", {});
  #value = make("span", { class: "figure__value" });
  #unit = make("span", { class: "figure__unit" });
  #spread = make("span", { class: "figure__spread" });
  #best = entry("Best so far");
  #below = entry("Below the best");
  #turns = entry("Turns left");
  #trendUse = symbol("live-steady");
  #trend = entry("Trend", this.#trendUse);
  #idle = make("p", { class: "now__idle" });
  #body = make(
    "div",
    { class: "now__body" },
    make("div", { class: "now__title" }, this.#adjuster, this.#gauge),
    make(
      "div",
      { class: "now__order" },
      this.#ring.element,
      make("div", { class: "now__words" }, this.#word, this.#way),
    ),
    make("dl", { class: "now__main" }, this.#label, make("dd", {}, this.#value, this.#unit, this.#spread)),
    this.#needle.element,
    make(
      "dl",
      { class: "now__figures" },
      this.#trend.element,
      this.#turns.element,
      this.#best.element,
      this.#below.element,
    ),
    this.#sentence,
  );
  element = make("div", { class: "now", "data-word": "wait" }, this.#body, this.#idle);
  #old = make("p", { class: "now__old", hidden: true });

  constructor() {
    this.element.append(this.#old);
  }

  /**
   * @param {Guidance | null} guidance
   * @param {string | null} text what goes on where there is no guidance; null where the place is needed by something else
   * @param {boolean} lost
   * @param {string} [asked] what is asked beside it: its words are not said twice
   */
  show(guidance, text, lost, asked = "") {
    hide(this.#old, !lost);
    if (lost) setText(this.#old, "The service is out of reach. These figures are old.");
    hide(this.#body, guidance === null);
    hide(this.#idle, guidance !== null || text === null);
    setText(this.#idle, text || "Measuring: nothing to turn at the moment.");
    hide(this.element, guidance === null && text === null && !lost);
    if (guidance !== null) this.#draw(guidance, asked);
  }

  /** No guidance has come for a while. */
  old() {
    if (this.#body.hidden) return;
    this.#old.hidden = false;
    setText(this.#old, "No new reading for some seconds: these figures are old.");
  }

  /** @param {string} summary */
  describe(summary) {
    this.#needle.describe(summary);
  }

  /**
   * @param {Guidance} guidance
   * @param {string} asked
   */
  #draw(guidance, asked) {
    const { word, way, turns_left: turns, adjuster, gauge, sentence } = guidance;
    tell(this.element, "word", word);
    setText(this.#adjuster, adjuster);
    setText(this.#gauge, capital(gauge));
    setText(this.#word, word);
    setText(this.#way, wayWords(guidance));
    this.#ring.show({ kind: ringOf(guidance), way, turns });
    setText(this.#sentence, asked.includes(capital(sentence)) ? "" : capital(sentence));
    this.#needle.show(guidance);
    this.#figures(guidance, RINGS[word] === "arrow" ? turns : null);
  }

  /**
   * @param {Guidance} guidance
   * @param {number | null} turns
   */
  #figures(guidance, turns) {
    const figure = figureOf(guidance);
    setText(this.#label, figure.label);
    setText(this.#value, figure.value);
    setText(this.#unit, figure.unit);
    setText(this.#spread, figure.spread);
    this.#showBest(bestWords(guidance));
    setText(this.#turns.value, turns === null ? "–" : turnsText(turns));
    hide(this.#turns.element, turns === null);
    const trend = TRENDS[guidance.trend];
    setText(this.#trend.value, trend.word);
    const use = this.#trendUse.querySelector("use");
    if (use?.getAttribute("href") !== `#symbol-${trend.symbol}`) use?.setAttribute("href", `#symbol-${trend.symbol}`);
  }

  /** @param {ReturnType<typeof bestWords>} told */
  #showBest(told) {
    hide(this.#best.element, told === null);
    hide(this.#below.element, told === null);
    if (told === null) return;
    setText(this.#best.name, told.names[0]);
    setText(this.#best.value, told.best);
    setText(this.#below.name, told.names[1]);
    setText(this.#below.value, told.below);
  }
}

/**
 * @param {Guidance} guidance
 * @returns {RingKind}
 */
function ringOf({ word, way, trend }) {
  if (RINGS[word] !== "arrow" || way !== null) return RINGS[word];
  if (word !== "turn") return "back";
  return trend === "unknown" ? "either" : "on";
}

/**
 * @param {string} name
 * @param {SVGElement} [picture]
 */
function entry(name, picture) {
  const value = make("span", {});
  const title = make("dt", {}, name);
  const element = make("div", { class: "figure" }, title, make("dd", {}, picture, value));
  return { element, name: title, value };
}
