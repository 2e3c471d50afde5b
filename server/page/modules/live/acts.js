// What can be pressed while an adjuster is turned: a nudge made, finished, it does not turn.

import { make, setText } from "../shared/dom.js";
import { isWithin } from "./ear.js";

/** @typedef {import("./types.js").Guidance} Guidance */
/** @typedef {import("./types.js").Signal} Signal */

export class Acts {
  #nudge;
  #finish;
  #cannot;
  #hint = make("p", { class: "live__hint", role: "alert" });
  #sure = make("p", { class: "live__sure", hidden: true }, "Not within the limit yet. Press again to finish all the same.");
  #buttons;
  element;

  /** @param {(signal: Signal) => void} signal */
  constructor(signal) {
    const button = (/** @type {Signal} */ what, /** @type {string} */ words) =>
      make("button", { type: "button", class: "button button--answer", onclick: () => signal(what) }, words);
    this.#nudge = button("step", "One nudge made");
    this.#finish = button("done", "Finished");
    this.#cannot = button("cannot", "It does not turn");
    this.#buttons = make("div", { class: "live__buttons", hidden: true }, this.#nudge, this.#finish, this.#cannot);
    this.element = make("div", { class: "live__acts" }, this.#sure, this.#buttons, this.#hint);
  }

  /**
   * @param {Guidance | null} guidance
   * @param {boolean} operating
   */
  show(guidance, operating) {
    this.#buttons.hidden = guidance === null || !operating;
    if (guidance === null) return;
    const byStep = guidance.gauge === "step and fit" && guidance.word !== "done";
    this.#nudge.hidden = !byStep;
    this.#nudge.classList.toggle("button--first", byStep);
    this.#finish.classList.toggle("button--first", !byStep && isWithin(guidance));
  }

  /** @param {boolean} sure whether a second press is waited for */
  sure(sure) {
    this.#sure.hidden = !sure;
  }

  /** @param {string} sentence */
  hint(sentence) {
    setText(this.#hint, sentence);
  }
}
