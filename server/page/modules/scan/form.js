// The form that sets up a scan. It checks what can be checked here; the service has the last word.

import { byId, setText } from "../shared/dom.js";
import { chooseRadio, chosenRadio, createField, radios, showPart } from "../shared/fields.js";
import { parseNumber } from "../shared/quantity.js";
import { createRange, edgesOf } from "./range.js";
import { TargetChoice } from "./targets.js";
import { signed, trimmed } from "../shared/units.js";

/** @typedef {import("../shared/types.js").Target} Target */
/** @typedef {import("../shared/types.js").ScanSettings} ScanSettings */
/** @typedef {import("../shared/types.js").ScanOrder} ScanOrder */
/** @typedef {import("../shared/types.js").DetectorLaw} DetectorLaw */

const LONGEST_SETTLE_MS = 60_000;
const FEWEST_READINGS = 3;
const MOST_READINGS = 100_000;

/** @type {Readonly<Record<DetectorLaw, string>>} */
const LAW_HINTS = Object.freeze({
  linear: "The meter's volts follow the signal's.",
  square: "The meter's volts follow the signal's power: a diode at low level.",
  calibrate: "The scan first steps the source and learns the law, AGC included. Takes longer.",
});

export class ScanForm {
  #form = byId("scan-form", HTMLFormElement);
  #scan = byId("scan", HTMLButtonElement);
  #state = byId("scan-state", HTMLElement);
  #error = byId("scan-error", HTMLElement);
  #detector = byId("detector", HTMLSelectElement);
  #range = createRange();
  #fields = {
    level: createField("level"),
    settle: createField("settle"),
    until: createField("until"),
    readings: createField("readings"),
  };
  /** @type {string | null} */
  #blocked = null;
  #listener;

  /**
   * @param {{onScan: (order: ScanOrder) => void, onTarget: (target: Target) => void}} listener
   */
  constructor(listener) {
    this.#listener = listener;
    this.targets = new TargetChoice((target) => {
      this.#fillFromTarget(target);
      listener.onTarget(target);
    });
    this.#detector.addEventListener("change", () => this.#showLaw());
    for (const radio of radios("frequencies")) radio.addEventListener("change", showFrequencies);
    this.#form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.submit();
    });
    showFrequencies();
  }

  submit() {
    this.#error.textContent = "";
    if (this.#blocked !== null) return;
    const order = read(this.targets.chosen, this.#range, this.#fields, lawOf(this.#detector));
    if (order !== null) this.#listener.onScan(order);
    else firstInvalid(this.#form)?.focus();
  }

  /** @param {string} sentence */
  fail(sentence) {
    this.#error.textContent = sentence;
  }

  /**
   * Why the Scan button would do nothing now, or null where it would scan.
   * @param {string | null} reason
   */
  block(reason) {
    this.#blocked = reason;
    this.#scan.setAttribute("aria-disabled", String(reason !== null));
    setText(this.#state, reason ?? "");
  }

  /**
   * Take the settings of a scan into the form.
   * @param {string} target
   * @param {ScanSettings} settings
   */
  fill(target, settings) {
    this.targets.choose(target);
    const edges = edgesOf(settings);
    if (edges !== null) this.#range.set(edges.startHz, edges.stopHz);
    const { level, settle, until, readings } = this.#fields;
    level.input.value = String(settings.level_dbm);
    settle.input.value = millisecondsField(settings.settle_s);
    this.#detector.value = settings.detector;
    chooseRadio("frequencies", settings.readings === null ? "chosen" : "even");
    if (settings.readings !== null) readings.input.value = String(settings.readings);
    until.input.value = settings.until_centre_percent === null ? "" : String(settings.until_centre_percent);
    this.#showLaw();
    showFrequencies();
  }

  /** @param {Target} target */
  #fillFromTarget(target) {
    this.#range.set(target.start_hz, target.stop_hz);
    this.#fields.level.input.value = String(target.level_dbm);
    this.#fields.settle.input.value = millisecondsField(target.settle_s);
    this.#detector.value = target.detector;
    byId("level-hint", HTMLElement).textContent = `at most ${ceilingText(target)} here`;
    for (const field of Object.values(this.#fields)) field.clear();
    this.#error.textContent = "";
    this.#showLaw();
  }

  #showLaw() {
    setText(byId("detector-hint", HTMLElement), LAW_HINTS[lawOf(this.#detector)] ?? "");
  }
}

/** @param {HTMLSelectElement} choice */
const lawOf = (choice) => /** @type {DetectorLaw} */ (choice.value);

const showFrequencies = () => showPart("data-frequencies", chosenRadio("frequencies"));

/** @param {number} seconds */
const millisecondsField = (seconds) => String(Number((seconds * 1e3).toPrecision(6)));

/** @param {Target} target */
const ceilingText = (target) => signed(target.max_level_dbm, "dBm", Number.isInteger(target.max_level_dbm) ? 0 : 1);

/**
 * @param {Target | null} target
 * @param {ReturnType<typeof createRange>} range
 * @param {Record<"level" | "settle" | "until" | "readings", import("../shared/fields.js").Field>} fields
 * @param {DetectorLaw} detector
 * @returns {ScanOrder | null} null where a field was refused
 */
function read(target, range, fields, detector) {
  if (target === null) return null;
  const ends = range.read();
  const level = readLevel(fields.level, target);
  const settle = bounded(fields.settle, 0, LONGEST_SETTLE_MS, `Settle must be from 0 to ${trimmed(LONGEST_SETTLE_MS)} ms.`, "ms");
  const even = chosenRadio("frequencies") === "even";
  const readings = even ? readCount(fields.readings) : null;
  const until = even ? null : readUntil(fields.until);
  if (ends === null || level === null || settle === null || (even && readings === null) || until === undefined) return null;
  return { target: target.id, ...ends, level_dbm: level, settle_s: settle / 1e3, detector, readings, until_centre_percent: until };
}

/**
 * @param {import("../shared/fields.js").Field} field
 * @param {Target} target
 * @returns {number | null}
 */
function readLevel(field, target) {
  const level = parseNumber(field.input.value, "dBm");
  if (level === null) return field.refuse(`Source level must be a number of dBm such as ${signed(target.level_dbm, "dBm", 0)}.`);
  if (level > target.max_level_dbm) return field.refuse(`Source level must be at most ${ceilingText(target)} for this hookup.`);
  return level;
}

/**
 * @param {import("../shared/fields.js").Field} field
 * @returns {number | null}
 */
function readCount(field) {
  const sentence = `Readings must be a whole number from ${FEWEST_READINGS} to ${MOST_READINGS}.`;
  const count = bounded(field, FEWEST_READINGS, MOST_READINGS, sentence);
  return count !== null && !Number.isInteger(count) ? field.refuse(sentence) : count;
}

/**
 * @param {import("../shared/fields.js").Field} field
 * @returns {number | null | undefined} null where none was asked for, undefined where the field was refused
 */
function readUntil(field) {
  if (field.input.value.trim() === "") return null;
  return bounded(field, 0.01, 50, "The share of the width must be from 0.01 to 50 %, or left empty.", "%") ?? undefined;
}

/**
 * @param {import("../shared/fields.js").Field} field
 * @param {number} lowest
 * @param {number} highest
 * @param {string} sentence
 * @param {string} [unit]
 * @returns {number | null}
 */
function bounded(field, lowest, highest, sentence, unit = "") {
  const value = parseNumber(field.input.value, unit);
  return value === null || value < lowest || value > highest ? field.refuse(sentence) : value;
}

/**
 * @param {HTMLFormElement} form
 * @returns {HTMLElement | null}
 */
function firstInvalid(form) {
  const found = form.querySelector('[aria-invalid="true"]:not([hidden] *)');
  return found instanceof HTMLElement ? found : null;
}
