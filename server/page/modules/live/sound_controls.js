// The switches of the sound: on and off at hand, the rest folded away. What was chosen is kept, except that it was on.

import { make, setText, symbol } from "../shared/dom.js";
import { REFERENCES_HZ } from "./sound.js";

const KEPT_AS = "peakwright sound";

export class SoundControls {
  #engine;
  #icon = symbol("sound-off");
  #word = make("span", {}, "Sound is off");
  button = make(
    "button",
    { type: "button", class: "button live__sound", "aria-pressed": "false", onclick: () => this.#toggle() },
    this.#icon,
    this.#word,
  );
  #volume = make("input", { type: "range", min: "0", max: "100", step: "5", oninput: () => this.#turned() });
  #muted = make("input", { type: "checkbox", onchange: () => this.#turned() });
  #pitch = make(
    "select",
    { onchange: () => this.#turned() },
    ...REFERENCES_HZ.map((hz) => make("option", { value: String(hz) }, `${hz} Hz`)),
  );
  #trouble = make("p", { class: "error", role: "alert" });
  /** The settings, to be folded away. */
  element = make(
    "div",
    { class: "live__settings" },
    make("label", { class: "setting" }, make("span", {}, "Volume"), this.#volume),
    make("label", { class: "setting" }, make("span", {}, "Pitch of the steady tone"), this.#pitch),
    make("label", { class: "option" }, this.#muted, make("span", {}, "Mute")),
    make(
      "p",
      { class: "hint" },
      `The second tone stands above the steady one when the figure is too high, below it when too low.
      Nearer, the two beat; turn until the beat stands still.
      Two blips, and a soft octave that stays, say that it is within the limit.`,
    ),
    this.#trouble,
  );

  /** @param {import("./sound.js").SoundEngine} engine */
  constructor(engine) {
    this.#engine = engine;
    const kept = recall();
    this.#volume.value = String(kept.volume);
    this.#pitch.value = String(kept.reference);
    this.#turned();
    this.#tell();
  }

  async #toggle() {
    try {
      if (this.#engine.on) await this.#engine.stop();
      else await this.#engine.start();
      setText(this.#trouble, "");
    } catch (error) {
      setText(this.#trouble, `The browser gives no sound: ${error instanceof Error ? error.message : String(error)}.`);
    }
    this.#tell();
  }

  #tell() {
    const { on } = this.#engine;
    this.button.setAttribute("aria-pressed", String(on));
    this.#icon.querySelector("use")?.setAttribute("href", on ? "#symbol-sound-on" : "#symbol-sound-off");
    setText(this.#word, on ? "Sound is on" : "Sound is off");
  }

  #turned() {
    const volume = Number(this.#volume.value);
    const reference = Number(this.#pitch.value) || 500;
    this.#engine.setVolume(volume / 100);
    this.#engine.setReference(reference);
    this.#engine.mute(this.#muted.checked);
    keep({ volume, reference });
  }
}

/** @returns {{volume: number, reference: number}} */
function recall() {
  const usual = { volume: 50, reference: 500 };
  try {
    return { ...usual, ...JSON.parse(localStorage.getItem(KEPT_AS) ?? "{}") };
  } catch {
    return usual;
  }
}

/** @param {{volume: number, reference: number}} settings */
function keep(settings) {
  try {
    localStorage.setItem(KEPT_AS, JSON.stringify(settings));
  } catch {
    // A browser that keeps nothing begins at the usual settings each time.
  }
}
