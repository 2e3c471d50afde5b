// The step key: the space bar, a foot pedal that types a key, or a tap on the live area of a phone.

/** Keys that pedals type as they come. */
const USUAL = Object.freeze([" ", "Enter", "PageDown"]);

/** Keys that mean something else and cannot be taught. */
const TAKEN = Object.freeze(["Escape", "Tab", "F8", "Shift", "Control", "Alt", "Meta"]);

/** A second press this soon after the first is a bouncing pedal or a trembling finger. */
const BOUNCE_MS = 350;

const KEPT_AS = "peakwright step key";

export class StepKey {
  #press;
  #lastMs = -Infinity;
  #taught = recall();
  /** @type {((key: string) => void) | null} */
  #learning = null;
  /** Whether the focus was last moved by pointing: a pedal then must not press the button that was pointed at. */
  #byPointer = false;
  #stop = new AbortController();

  /**
   * @param {HTMLElement} area where a tap counts
   * @param {() => void} press called once for each press
   */
  constructor(area, press) {
    this.#press = press;
    const options = { signal: this.#stop.signal, capture: true };
    document.addEventListener("pointerdown", () => (this.#byPointer = true), options);
    document.addEventListener("keydown", (event) => this.#key(event), options);
    area.addEventListener("click", (event) => this.#tap(event), { signal: this.#stop.signal });
  }

  /** The key that was taught, or null. */
  get taught() {
    return this.#taught;
  }

  /** @param {(key: string) => void} learnt called with the next key that is pressed */
  learn(learnt) {
    this.#learning = learnt;
  }

  stopLearning() {
    this.#learning = null;
  }

  /** Stop listening. */
  end() {
    this.#stop.abort();
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (event.key === "Tab") this.#byPointer = false;
    if (this.#learning !== null) {
      if (!TAKEN.includes(event.key)) this.#teach(event);
      return;
    }
    const known = USUAL.includes(event.key) || event.key === this.#taught;
    if (!known || event.ctrlKey || event.altKey || event.metaKey) return;
    if (belongsElsewhere(event, this.#byPointer)) return;
    event.preventDefault();
    event.stopPropagation();
    if (!event.repeat) this.#once(event.timeStamp);
  }

  /** @param {KeyboardEvent} event */
  #teach(event) {
    event.preventDefault();
    event.stopPropagation();
    this.#taught = event.key;
    remember(event.key);
    this.#learning?.(event.key);
    this.#learning = null;
    this.#lastMs = event.timeStamp;
  }

  /** @param {MouseEvent} event */
  #tap(event) {
    const byFinger = event instanceof PointerEvent && event.pointerType === "touch";
    if (byFinger && !isControl(event.target)) this.#once(event.timeStamp);
  }

  /** @param {number} atMs */
  #once(atMs) {
    if (atMs - this.#lastMs < BOUNCE_MS) return;
    this.#lastMs = atMs;
    this.#press();
  }
}

/**
 * What a key is called on the page.
 * @param {string} key
 */
export const keyName = (key) => (key === " " ? "Space" : key.length === 1 ? key.toUpperCase() : key);

/**
 * Whether a key is meant for what has the focus: a field, an open dialog, a button that was reached by keyboard.
 * @param {KeyboardEvent} event
 * @param {boolean} byPointer
 */
function belongsElsewhere({ target, key }, byPointer) {
  if (!(target instanceof Element)) return false;
  if (document.querySelector("dialog[open]") !== null) return true;
  if (target.closest("input, select, textarea, [contenteditable]") !== null) return true;
  if (key === "PageDown" && target.closest("[role=slider]") !== null) return true;
  const presses = key === " " || key === "Enter";
  return presses && !byPointer && target.closest("button, a, summary") !== null;
}

/** @param {EventTarget | null} target */
const isControl = (target) => target instanceof Element && target.closest("button, a, summary, input, select, label, details") !== null;

/** @returns {string | null} */
function recall() {
  try {
    return localStorage.getItem(KEPT_AS);
  } catch {
    return null;
  }
}

/** @param {string} key */
function remember(key) {
  try {
    localStorage.setItem(KEPT_AS, key);
  } catch {
    // A browser that keeps nothing knows the key until the page is left.
  }
}
