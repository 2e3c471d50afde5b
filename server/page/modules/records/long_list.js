// A list that may be long: so many lines at first, and more when asked for.

import { make } from "../shared/dom.js";
import { Slot } from "../shared/slot.js";

/**
 * @template T
 */
export class LongList {
  #slot = new Slot(make("div", {}));
  element = this.#slot.element;
  #atFirst;
  #limit;
  #line;

  /**
   * @param {number} atFirst lines at first, and more each time
   * @param {(entry: T) => HTMLElement} line
   */
  constructor(atFirst, line) {
    this.#atFirst = this.#limit = atFirst;
    this.#line = line;
  }

  /** Begin at the top again. */
  shorten() {
    this.#limit = this.#atFirst;
  }

  /** @param {T[]} entries */
  show(entries) {
    this.#slot.show([entries, this.#limit], () => [
      entries.length > 0 && make("ul", { class: "records" }, ...entries.slice(0, this.#limit).map(this.#line)),
      entries.length > this.#limit && this.#more(entries),
    ]);
  }

  /** @param {T[]} entries */
  #more(entries) {
    const act = () => {
      this.#limit += this.#atFirst;
      this.show(entries);
    };
    return make("button", { type: "button", class: "button", "data-control": "more", onclick: act }, "Show more");
  }
}
