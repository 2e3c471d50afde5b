// One simulated adjuster, seen from above as the slot in its head: dragged round, wheeled, stepped by key or button.

import { make, part, setText } from "../shared/dom.js";
import { trimmed } from "../shared/units.js";
import { turnsText } from "../live/words.js";

/** @typedef {import("./types.js").PracticeAdjuster} PracticeAdjuster */

/** How far a button turns it, by the unit of the adjuster. */
const STEPS = Object.freeze({
  turn: { far: 1, coarse: 1 / 8, fine: 1 / 64, names: ["1", "⅛", "1/64"] },
  kHz: { far: 5, coarse: 1, fine: 0.1, names: ["5", "1", "0.1"] },
  mark: { far: 0.2, coarse: 0.05, fine: 0.01, names: ["0.2", "0.05", "0.01"] },
});

/** A step that ends short of this share of itself was stopped by something. */
const STOPPED = 0.75;

export class Knob {
  #adjuster;
  #turn;
  #steps;
  /** Where it stood before anybody turned it, and where it stands, as far as the bench has confirmed. */
  #found;
  #position;
  /** What has been asked for and not been carried out yet. */
  #owed = 0;
  #busy = false;
  /** Where the finger last was on the head, in turns; null while none is on it. @type {number | null} */
  #finger = null;
  #picture = head();
  #dial = make(
    "div",
    { class: "knob__head", role: "slider", tabindex: "0", "aria-valuemin": "-100", "aria-valuemax": "100", "aria-valuenow": "0" },
    this.#picture,
  );
  #told = make("p", { class: "knob__told" });
  #trouble = make("p", { class: "error", role: "alert" });
  element;

  /**
   * @param {PracticeAdjuster} adjuster
   * @param {(turns: number) => Promise<{moved_turns: number}>} turn
   */
  constructor(adjuster, turn) {
    this.#adjuster = adjuster;
    this.#turn = turn;
    this.#position = adjuster.position_turns;
    this.#found = adjuster.position_turns - (adjuster.made_turns ?? 0);
    this.#steps = STEPS[/** @type {keyof typeof STEPS} */ (adjuster.unit)] ?? STEPS.turn;
    this.#dial.setAttribute("aria-label", adjuster.name);
    this.element = make(
      "div",
      { class: "knob" },
      this.#dial,
      make("div", { class: "knob__side" }, this.#told, this.#buttons(), this.#trouble),
    );
    this.#listen();
    this.#draw();
  }

  get name() {
    return this.#adjuster.name;
  }

  /**
   * Somebody else may have turned it.
   * @param {number} position
   */
  stands(position) {
    if (this.#busy) return;
    this.#position = position;
    this.#draw();
  }

  /**
   * Turn it, clockwise where positive. What is asked while a turn is on its way is added up and follows.
   * @param {number} turns
   */
  async by(turns) {
    this.#owed += turns;
    this.#draw();
    if (this.#busy) return;
    this.#busy = true;
    try {
      while (this.#owed !== 0) await this.#carryOut();
    } catch (error) {
      this.#owed = 0;
      setText(this.#trouble, error instanceof Error ? error.message : String(error));
    }
    this.#busy = false;
    this.#draw();
  }

  async #carryOut() {
    const asked = this.#owed;
    const { moved_turns: moved } = await this.#turn(asked);
    this.#owed -= asked;
    this.#position += moved;
    const stopped = Math.abs(moved) < STOPPED * Math.abs(asked);
    setText(this.#trouble, stopped ? "It does not turn any further: it sits fast, or is at the end of its travel." : "");
    this.#draw();
  }

  #buttons() {
    const { far, coarse, fine, names } = this.#steps;
    const sizes = [far, coarse, fine];
    const button = (/** @type {-1 | 1} */ side, /** @type {number} */ index) => {
      const size = names[index];
      const isTurned = this.#adjuster.unit === "turn";
      const way = isTurned ? (side > 0 ? "clockwise" : "anticlockwise") : side > 0 ? "up" : "down";
      const arrow = isTurned ? (side > 0 ? "↻" : "↺") : side > 0 ? "▲" : "▼";
      const name = `${this.#adjuster.name}: ${way} ${size}`;
      const turn = () => this.by(side * (sizes[index] ?? 0));
      return make("button", { type: "button", class: "button", "aria-label": name, onclick: turn }, `${arrow} ${size}`);
    };
    const row = (/** @type {-1 | 1} */ side) => [0, 1, 2].map((index) => button(side, index));
    return make("div", { class: "knob__buttons" }, ...row(1), ...row(-1));
  }

  #listen() {
    const dial = this.#dial;
    dial.addEventListener("keydown", (event) => this.#key(event));
    dial.addEventListener("wheel", (event) => this.#wheel(event), { passive: false });
    dial.addEventListener("pointerdown", (event) => {
      dial.setPointerCapture(event.pointerId);
      this.#finger = this.#angle(event);
    });
    dial.addEventListener("pointermove", (event) => this.#drag(event));
    for (const name of ["pointerup", "pointercancel"]) dial.addEventListener(name, () => (this.#finger = null));
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const side = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1 }[event.key];
    if (side === undefined) return;
    event.preventDefault();
    this.by(side * (event.shiftKey ? this.#steps.fine : this.#steps.coarse));
  }

  /** The wheel turns it only once it has the focus: until then it scrolls the page. @param {WheelEvent} event */
  #wheel(event) {
    if (document.activeElement !== this.#dial || event.deltaY === 0) return;
    event.preventDefault();
    this.by(-Math.sign(event.deltaY) * (event.shiftKey ? this.#steps.fine : this.#steps.coarse));
  }

  /** @param {PointerEvent} event */
  #drag(event) {
    if (this.#finger === null) return;
    const angle = this.#angle(event);
    // Across the top the angle jumps by a turn; the finger does not.
    const moved = ((angle - this.#finger + 1.5) % 1) - 0.5;
    const step = this.#steps.fine;
    const steps = Math.trunc((moved * this.#perRound) / step);
    if (steps === 0) return;
    this.#finger = (this.#finger + (steps * step) / this.#perRound + 1) % 1;
    this.by(steps * step);
  }

  /** How much of its own unit one round of the picture stands for. */
  get #perRound() {
    return this.#adjuster.unit === "turn" ? 1 : this.#adjuster.travel_turns;
  }

  /** @param {PointerEvent} event */
  #angle(event) {
    const box = this.#dial.getBoundingClientRect();
    const x = event.clientX - box.left - box.width / 2;
    const y = event.clientY - box.top - box.height / 2;
    return (Math.atan2(x, -y) / (2 * Math.PI) + 1) % 1;
  }

  #draw() {
    const position = this.#position + this.#owed;
    const turned = position - this.#found;
    const degrees = (position / this.#perRound) * 360;
    this.#picture.style.setProperty("--angle", `${degrees.toFixed(1)}deg`);
    const words = turnedWords(turned, this.#adjuster.unit);
    setText(this.#told, words);
    this.#dial.setAttribute("aria-valuenow", String(Number(turned.toFixed(4))));
    this.#dial.setAttribute("aria-valuetext", words);
  }
}

/**
 * @param {number} turned
 * @param {string} unit
 */
function turnedWords(turned, unit) {
  if (Math.abs(turned) < 1e-6) return "Not turned yet";
  const way = turned > 0 ? "clockwise" : "anticlockwise";
  const far = Math.abs(turned);
  const eighths = Math.abs(far * 8 - Math.round(far * 8)) < 1e-3;
  if (unit !== "turn") return `Moved ${trimmed(Number(far.toFixed(3)))} ${unit} ${turned > 0 ? "up" : "down"}`;
  return `Turned ${eighths ? turnsText(far) : `${far.toFixed(3)} turn`} ${way}`;
}

/** The head of a slug or trimmer: a round with a slot across, and a dot that tells one end of the slot from the other. */
function head() {
  const ticks = Array.from({ length: 8 }, (_, index) =>
    part("path", { class: "knob__tick", d: "M0 -49V-44", transform: `rotate(${index * 45})` }),
  );
  const turning = part(
    "g",
    { class: "knob__turning" },
    part("circle", { class: "knob__disc", r: 40 }),
    part("path", { class: "knob__slot", d: "M0 -29V29" }),
    part("circle", { class: "knob__dot", r: 3.4, cy: -35 }),
  );
  return part("svg", { viewBox: "-50 -50 100 100", "aria-hidden": "true" }, ...ticks, turning);
}
