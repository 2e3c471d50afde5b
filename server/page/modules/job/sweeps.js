// The sweeps within the runs of a step, each with its phase and the place it was taken at.

import { plottedReadings, roughReadings, unusedReadings } from "../scan/record.js";

/** @typedef {import("../scan/record.js").ScanRecord} ScanRecord */
/** @typedef {import("../scan/record.js").Sweep} Sweep */
/** @typedef {import("../shared/types.js").Result} Result */
/** @typedef {{quantity: string, where: string, value: number | null, unit: string}} Finding */

/**
 * @typedef {object} StepRuns
 * @property {ScanRecord | null} found
 * @property {ScanRecord | null} left
 * @property {ScanRecord | null} now the run that is on
 * @property {Finding[]} foundFindings
 * @property {Finding[]} leftFindings
 * @property {number | null} nominalKhz
 */

/** @typedef {{phase: string, place: string, run: string | number, curve: import("../chart/curve.js").Curve}} NamedSweep */

/** From so many frequencies on, readings are a curve. */
const LEAST_FREQUENCIES = 4;

/** How far, as a share, a centre may be from a figure that is the same. */
const SAME = 1e-9;

/** @type {Readonly<Record<string, number>>} */
const HZ = Object.freeze({ Hz: 1, kHz: 1e3, MHz: 1e6 });

/**
 * The sweeps to show: now first, then as left, then as found, so that the latest lies on top.
 * @param {StepRuns} runs
 * @returns {NamedSweep[]}
 */
export function sweepsOf({ found, left, now, foundFindings, leftFindings }) {
  const kept = [...named(left, "as left", leftFindings), ...named(found, "as found", foundFindings)];
  const running = now === null || now.final ? [] : [runningSweep(now)].filter((sweep) => sweep !== null);
  const place = kept.map((sweep) => sweep.place)[now?.sweeps.length ?? 0] ?? "now";
  return [...running.map((sweep) => ({ ...sweep, place })), ...kept];
}

/**
 * @param {ScanRecord | null} record
 * @param {string} phase
 * @param {Finding[]} findings
 * @returns {NamedSweep[]}
 */
function named(record, phase, findings) {
  if (record === null) return [];
  if (record.sweeps.length === 0 && record.result?.curve) {
    return [{ phase, place: "", run: record.id, curve: curveOf(record, 0, Infinity, record.result) }];
  }
  /** @type {Map<string, NamedSweep>} */
  const places = new Map();
  record.sweeps.forEach(({ result, first, last }, index) => {
    const place = placeOfCentre(result, findings) ?? `sweep ${index + 1}`;
    // Of two sweeps at one place the later stands.
    places.set(place, { phase, place, run: record.id, curve: curveOf(record, first, last, result) });
  });
  return [...places.values()];
}

/**
 * A sweep is told by its very centre, which the step's figures hold to the last digit.
 * @param {Result} result
 * @param {Finding[]} findings
 * @returns {string | null}
 */
function placeOfCentre({ centre_hz: centre }, findings) {
  if (centre === null) return null;
  const same = findings
    .filter(
      ({ quantity, value, unit }) =>
        quantity === "centre" && value !== null && Math.abs(value * (HZ[unit] ?? NaN) - centre) <= SAME * centre,
    )
    .at(-1);
  return same === undefined ? null : same.where;
}

/**
 * What has been read since the last whole sweep.
 * @param {ScanRecord} record
 * @returns {NamedSweep | null}
 */
function runningSweep(record) {
  const curve = curveOf(record, (record.sweeps.at(-1)?.last ?? -1) + 1, Infinity, record.result);
  const frequencies = new Set(
    curve.readings.filter(({ purpose }) => purpose === "scan").map(({ frequency_hz: hz }) => hz),
  );
  return frequencies.size < LEAST_FREQUENCIES ? null : { phase: "now", place: "", run: record.id, curve };
}

/**
 * @param {ScanRecord} record
 * @param {number} first
 * @param {number} last
 * @param {Result | null} result
 */
function curveOf(record, first, last, result) {
  const part = {
    ...record,
    readings: new Map([...record.readings].filter(([index]) => index >= first && index <= last)),
  };
  const readings = plottedReadings(part).filter(({ purpose }) => purpose === "scan");
  return {
    readings,
    rough: readings.length === 0 ? roughReadings(part) : [],
    silent: unusedReadings(part).filter(
      ({ purpose, level_db: level, frequency_hz: hz }) => purpose === "scan" && level === null && hz !== null,
    ),
    result,
  };
}
