// A slider over the readings in order of frequency. It tells each in words, and the chart rings it.

import { make, setText } from "../shared/dom.js";
import { settingText, signed } from "../shared/units.js";

/** @typedef {import("../shared/types.js").Reading} Reading */

export class CursorSlider {
  element;
  #input;
  #text;
  /** @type {Reading[]} */
  #sorted = [];
  #used = false;
  #onPoint;

  /**
   * @param {string} name what the ids of its parts begin with
   * @param {(reading: Reading | null) => void} onPoint
   */
  constructor(name, onPoint) {
    const id = `${name}-cursor`;
    this.#input = make("input", { id, type: "range", min: 0, max: 0, value: 0, step: 1, disabled: true });
    this.#text = make("output", { id: `${id}-text`, for: id });
    this.element = make(
      "div",
      { class: "cursor" },
      make("label", { for: id }, "Look along the readings"),
      this.#text,
      this.#input,
    );
    this.#onPoint = onPoint;
    this.#input.addEventListener("input", () => {
      this.#used = true;
      this.repeat();
    });
  }

  /** @param {Reading[]} readings */
  show(readings) {
    const held = this.#held;
    this.#sorted = [...readings].sort((one, other) => Number(one.frequency_hz) - Number(other.frequency_hz));
    this.#input.disabled = this.#sorted.length === 0;
    this.#input.max = String(Math.max(this.#sorted.length - 1, 0));
    // New readings push the one being looked at along; the slider stays with the reading, not with its place.
    const place = this.#sorted.findIndex(({ index }) => index === held?.index);
    if (place >= 0) this.#input.value = String(place);
    this.repeat();
  }

  /** Point at nothing until the slider is used again. */
  reset() {
    this.#used = false;
    this.repeat();
  }

  /** Point again at the same reading, since the chart has changed under it. */
  repeat() {
    const reading = this.#held;
    const words = reading === null ? "" : readingWords(reading);
    setText(this.#text, words);
    this.#input.setAttribute("aria-valuetext", words === "" ? "none chosen" : words);
    this.#onPoint(reading);
  }

  get #held() {
    return this.#used ? (this.#sorted[Number(this.#input.value)] ?? null) : null;
  }
}

/** @param {Reading} reading */
function readingWords({ index, frequency_hz: hz, level_db: level, used }) {
  const where = hz === null ? "" : settingText(hz);
  const what = level === null ? "no level" : signed(level, "dB", 2);
  return `Reading ${index}: ${where}, ${what}${used ? "" : ", not used"}`;
}
