// The form that sets up a scan. It checks what can be checked here; the service has the last word.

import { byId, setText } from "./dom.js";
import { chooseRadio, chosenRadio, createField, radios, showPart } from "./fields.js";
import { parseNumber } from "./quantity.js";
import { createRange } from "./range.js";
import { createTargetChoice } from "./targets.js";
import { signed, trimmed } from "./units.js";

/** @typedef {import("./types.js").Target} Target */
/** @typedef {import("./types.js").ScanSettings} ScanSettings */
/** @typedef {import("./types.js").ScanOrder} ScanOrder */
/** @typedef {import("./types.js").DetectorLaw} DetectorLaw */

const LONGEST_SETTLE_MS = 60_000;
const FEWEST_READINGS = 3;
const MOST_READINGS = 100_000;

/** @type {Readonly<Record<DetectorLaw, string>>} */
const LAW_HINTS = Object.freeze({
  linear: "The meter's volts follow the signal's.",
  square: "The meter's volts follow the signal's power: a diode at low level.",
  calibrate: "The scan first steps the source and learns the law, AGC included. Takes longer.",
});

/**
 * @param {{onScan: (order: ScanOrder) => void, onTarget: (target: Target) => void}} listener
 */
export function createForm({ onScan, onTarget }) {
  const form = byId("scan-form", HTMLFormElement);
  const scan = byId("scan", HTMLButtonElement);
  const state = byId("scan-state", HTMLElement);
  const error = byId("scan-error", HTMLElement);
  const detector = byId("detector", HTMLSelectElement);
  const range = createRange();
  const fields = { level: createField("level"), settle: createField("settle"), until: createField("until"), readings: createField("readings") };
  const targets = createTargetChoice((target) => {
    fillFromTarget(target);
    onTarget(target);
  });
  /** @type {string | null} */
  let blocked = null;

  const showLaw = () => {
    const hint = LAW_HINTS[/** @type {DetectorLaw} */ (detector.value)] ?? "";
    setText(byId("detector-hint", HTMLElement), hint);
  };
  const showFrequencies = () => showPart("data-frequencies", chosenRadio("frequencies"));
  detector.addEventListener("change", showLaw);
  for (const radio of radios("frequencies")) radio.addEventListener("change", showFrequencies);

  /** @param {Target} target */
  function fillFromTarget(target) {
    range.set(target.start_hz, target.stop_hz);
    fields.level.input.value = String(target.level_dbm);
    fields.settle.input.value = String(Number((target.settle_s * 1e3).toPrecision(6)));
    detector.value = target.detector;
    byId("level-hint", HTMLElement).textContent = `at most ${ceilingText(target)} here`;
    for (const field of Object.values(fields)) field.clear();
    error.textContent = "";
    showLaw();
  }

  const submit = () => {
    error.textContent = "";
    if (blocked !== null) return;
    const order = read(targets.chosen(), range, fields, /** @type {DetectorLaw} */ (detector.value));
    if (order !== null) onScan(order);
    else firstInvalid(form)?.focus();
  };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    submit();
  });
  showFrequencies();

  return {
    targets,
    submit,
    /** @param {string} sentence */
    fail(sentence) {
      error.textContent = sentence;
    },
    /**
     * Why the Scan button would do nothing now, or null where it would scan.
     * @param {string | null} reason
     */
    block(reason) {
      blocked = reason;
      scan.setAttribute("aria-disabled", String(reason !== null));
      setText(state, reason ?? "");
    },
    /**
     * Take the settings of a scan into the form.
     * @param {string} target
     * @param {ScanSettings} settings
     */
    fill(target, settings) {
      targets.choose(target);
      const edges = edgesOf(settings);
      if (edges !== null) range.set(edges.startHz, edges.stopHz);
      range.choose(settings.centre_hz === undefined || settings.start_hz !== undefined ? "edges" : "centre");
      fields.level.input.value = String(settings.level_dbm);
      fields.settle.input.value = String(Number((settings.settle_s * 1e3).toPrecision(6)));
      detector.value = settings.detector;
      chooseRadio("frequencies", settings.readings === null ? "chosen" : "even");
      if (settings.readings !== null) fields.readings.input.value = String(settings.readings);
      fields.until.input.value = settings.until_centre_percent === null ? "" : String(settings.until_centre_percent);
      showLaw();
      showFrequencies();
    },
  };
}

/** @typedef {ReturnType<typeof createForm>} ScanForm */

/**
 * The two ends of a scan's range, however it was given.
 * @param {ScanSettings} settings
 * @returns {{startHz: number, stopHz: number} | null}
 */
export function edgesOf(settings) {
  const { start_hz: start, stop_hz: stop, centre_hz: centre, span_hz: span } = settings;
  if (typeof start === "number" && typeof stop === "number") return { startHz: start, stopHz: stop };
  if (typeof centre === "number" && typeof span === "number") return { startHz: centre - span / 2, stopHz: centre + span / 2 };
  return null;
}

/** @param {Target} target */
const ceilingText = (target) => signed(target.max_level_dbm, "dBm", Number.isInteger(target.max_level_dbm) ? 0 : 1);

/**
 * @param {Target | null} target
 * @param {ReturnType<typeof createRange>} range
 * @param {Record<"level" | "settle" | "until" | "readings", import("./fields.js").Field>} fields
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
 * @param {import("./fields.js").Field} field
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
 * @param {import("./fields.js").Field} field
 * @returns {number | null}
 */
function readCount(field) {
  const sentence = `Readings must be a whole number from ${FEWEST_READINGS} to ${MOST_READINGS}.`;
  const count = bounded(field, FEWEST_READINGS, MOST_READINGS, sentence);
  return count !== null && !Number.isInteger(count) ? field.refuse(sentence) : count;
}

/**
 * @param {import("./fields.js").Field} field
 * @returns {number | null | undefined} null where none was asked for, undefined where the field was refused
 */
function readUntil(field) {
  if (field.input.value.trim() === "") return null;
  return bounded(field, 0.01, 50, "The share of the width must be from 0.01 to 50 %, or left empty.", "%") ?? undefined;
}

/**
 * @param {import("./fields.js").Field} field
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
