// The live area for those who hear the page: a sentence now and then, never one for each reading.

import { make, setText } from "../shared/dom.js";

/** A screen reader needs so long for a sentence; sooner would cut it off. */
const EVERY_MS = 4000;

export class SpokenSummary {
  element = make("p", { class: "unseen", role: "status", "aria-live": "polite" });
  #lastMs = -Infinity;
  #sentence = "";
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #due;

  /**
   * Have a sentence spoken, when its turn comes; a later one takes its place.
   * @param {string} sentence
   * @param {boolean} [now] not to be put off: a question, a loss
   */
  say(sentence, now = false) {
    this.#sentence = sentence;
    const restMs = now ? 0 : this.#lastMs + EVERY_MS - performance.now();
    if (restMs <= 0) this.#speak();
    else this.#due ??= setTimeout(() => this.#speak(), restMs);
  }

  end() {
    clearTimeout(this.#due);
    this.#due = undefined;
  }

  #speak() {
    this.end();
    this.#lastMs = performance.now();
    setText(this.element, this.#sentence);
  }
}
