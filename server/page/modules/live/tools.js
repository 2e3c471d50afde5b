// Beside the live area: sound, large view, and how the step key is set.

import { make, setText, symbol } from "../shared/dom.js";
import { SoundControls } from "./sound_controls.js";
import { keyName } from "./step_key.js";

/** @typedef {import("./step_key.js").StepKey} StepKey */

export class Tools {
  #key;
  #area;
  #keys = make("p", { class: "hint" });
  #teach = make("button", { type: "button", class: "button button--small", onclick: () => this.#learn() }, "Teach another key");
  #large = make(
    "button",
    { type: "button", class: "button", "aria-pressed": "false", onclick: () => this.#toggleLarge() },
    symbol("live-large"),
    make("span", {}, "Large"),
  );
  /** @type {Promise<WakeLockSentinel> | null} */
  #awake = null;
  bar;
  settings;

  /**
   * @param {import("./sound.js").SoundEngine} sound
   * @param {StepKey} key
   * @param {HTMLElement} area
   */
  constructor(sound, key, area) {
    this.#key = key;
    this.#area = area;
    const controls = new SoundControls(sound);
    this.bar = make("div", { class: "live__tools" }, controls.button, this.#large);
    this.settings = make(
      "details",
      { class: "live__fold" },
      make("summary", {}, "Tones and step key"),
      make("h4", {}, "Tones"),
      controls.element,
      make("h4", {}, "Step key"),
      this.#keys,
      this.#teach,
    );
    this.#tellKeys();
  }

  #tellKeys() {
    const taught = this.#key.taught;
    const known = ["Space", "Enter", "Page Down", ...(taught === null ? [] : [keyName(taught)])];
    const taps = "on a phone, a tap on this area. A foot pedal that types another key can be taught.";
    setText(this.#keys, `${[...new Set(known)].join(", ")}; ${taps}`);
    setText(this.#teach, "Teach another key");
  }

  #learn() {
    setText(this.#teach, "Press the pedal or the key now");
    this.#key.learn(() => this.#tellKeys());
    this.#teach.addEventListener("blur", () => this.#forget(), { once: true });
  }

  #forget() {
    this.#key.stopLearning();
    this.#tellKeys();
  }

  /** Over the whole window under the bench strip, for a screen that is propped up beside the receiver. */
  #toggleLarge() {
    const large = this.#area.dataset.large !== "yes";
    this.#area.dataset.large = large ? "yes" : "no";
    this.#large.setAttribute("aria-pressed", String(large));
    this.#keepAwake(large);
  }

  /**
   * Keep the screen from going dark, where the browser can.
   * @param {boolean} wanted
   */
  #keepAwake(wanted) {
    this.#awake?.then((lock) => lock.release()).catch(() => {});
    this.#awake = wanted && "wakeLock" in navigator ? navigator.wakeLock.request("screen") : null;
    this.#awake?.catch(() => {});
  }
}
