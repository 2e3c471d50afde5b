// The range of a scan, given by start and stop or by centre and span; changing the way keeps the range.

import { chosenRadio, createField, radios, showPart } from "../shared/fields.js";
import { kilohertzField, parseFrequency } from "../shared/quantity.js";

/** @typedef {{start_hz: number, stop_hz: number} | {centre_hz: number, span_hz: number}} Range */
/** @typedef {import("../shared/fields.js").Field} Field */

const EXAMPLES = "a frequency such as 455, 455 kHz or 7.1 MHz";

export function createRange() {
  const start = createField("start");
  const stop = createField("stop");
  const centre = createField("centre");
  const span = createField("span");

  const showKind = () => showPart("data-range", chosenRadio("range-kind"));
  const convert = () => {
    if (chosenRadio("range-kind") === "centre") toCentre(start, stop, centre, span);
    else toEdges(start, stop, centre, span);
    for (const field of [start, stop, centre, span]) field.clear();
    showKind();
  };
  for (const radio of radios("range-kind")) radio.addEventListener("change", convert);

  return {
    /**
     * @param {number} startHz
     * @param {number} stopHz
     */
    set(startHz, stopHz) {
      start.input.value = kilohertzField(startHz);
      stop.input.value = kilohertzField(stopHz);
      toCentre(start, stop, centre, span);
      for (const field of [start, stop, centre, span]) field.clear();
    },
    /** @returns {Range | null} null where a field was refused */
    read: () => (chosenRadio("range-kind") === "centre" ? readCentre(centre, span) : readEdges(start, stop)),
  };
}

/**
 * The two ends of a scan's range, however it was given.
 * @param {import("../shared/types.js").ScanSettings} settings
 * @returns {{startHz: number, stopHz: number} | null}
 */
export function edgesOf(settings) {
  const { start_hz: start, stop_hz: stop, centre_hz: centre, span_hz: span } = settings;
  if (typeof start === "number" && typeof stop === "number") return { startHz: start, stopHz: stop };
  if (typeof centre === "number" && typeof span === "number") return { startHz: centre - span / 2, stopHz: centre + span / 2 };
  return null;
}

/**
 * @param {Field} start
 * @param {Field} stop
 * @param {Field} centre
 * @param {Field} span
 */
function toCentre(start, stop, centre, span) {
  const low = parseFrequency(start.input.value);
  const high = parseFrequency(stop.input.value);
  if (low === null || high === null) return;
  centre.input.value = kilohertzField((low + high) / 2);
  span.input.value = kilohertzField(high - low);
}

/**
 * @param {Field} start
 * @param {Field} stop
 * @param {Field} centre
 * @param {Field} span
 */
function toEdges(start, stop, centre, span) {
  const middle = parseFrequency(centre.input.value);
  const whole = parseFrequency(span.input.value);
  if (middle === null || whole === null) return;
  start.input.value = kilohertzField(middle - whole / 2);
  stop.input.value = kilohertzField(middle + whole / 2);
}

/**
 * @param {Field} start
 * @param {Field} stop
 * @returns {Range | null}
 */
function readEdges(start, stop) {
  const low = positive(start, "Start");
  const high = positive(stop, "Stop");
  if (low === null || high === null) return null;
  if (high <= low) return stop.refuse("Stop must be above start.");
  return { start_hz: low, stop_hz: high };
}

/**
 * @param {Field} centre
 * @param {Field} span
 * @returns {Range | null}
 */
function readCentre(centre, span) {
  const middle = positive(centre, "Centre");
  const whole = positive(span, "Span");
  if (middle === null || whole === null) return null;
  if (whole >= 2 * middle) return span.refuse("Span must be less than twice the centre.");
  return { centre_hz: middle, span_hz: whole };
}

/**
 * @param {Field} field
 * @param {string} name
 * @returns {number | null}
 */
function positive(field, name) {
  const value = parseFrequency(field.input.value);
  if (value === null || value <= 0) return field.refuse(`${name} must be ${EXAMPLES}.`);
  return value;
}
