// What the chart shows of a scan and of those laid over it: curves, key, and a description in words.

import { CURVE_STYLES } from "../chart/theme.js";
import { edgesOf } from "./range.js";
import { resultSentence } from "./result.js";
import { plottedReadings, roughReadings, unusedReadings } from "./record.js";
import { settingText } from "../shared/units.js";
import { capital, counted, moment } from "../shared/words.js";

/** @typedef {import("./record.js").ScanRecord} ScanRecord */
/** @typedef {import("../shared/types.js").Target} Target */
/** @typedef {import("../chart/key.js").KeyEntry} KeyEntry */

/**
 * @param {ScanRecord | null} record
 * @param {ScanRecord[]} overlays
 * @param {Target | null} target
 * @param {(id: string) => void} remove takes a scan off the chart
 * @returns {import("../chart/pane.js").ChartContent}
 */
export function chartContent(record, overlays, target, remove) {
  if (record === null) return emptyContent(target);
  const curves = [record, ...overlays].map((each) => ({
    readings: plottedReadings(each),
    rough: roughReadings(each),
    silent: unusedReadings(each).filter(({ level_db: level, frequency_hz: hz }) => level === null && hz !== null),
    result: each.result,
  }));
  const ends = [record, ...overlays].map(({ settings }) => edgesOf(settings)).filter((edges) => edges !== null);
  const lows = ends.map(({ startHz }) => startHz);
  const highs = ends.map(({ stopHz }) => stopHz);
  return {
    scene: {
      curves,
      edgesHz: ends.length === 0 ? null : [Math.min(...lows), Math.max(...highs)],
      nominalHz: target?.nominal_centre_hz ?? null,
    },
    description: describe(record, overlays),
    key: keyOf(record, overlays, target, remove),
  };
}

/**
 * Before a scan, the chart already spans what would be scanned.
 * @param {Target | null} target
 * @returns {import("../chart/pane.js").ChartContent}
 */
function emptyContent(target) {
  return {
    scene: {
      curves: [],
      edgesHz: target === null ? null : [target.start_hz, target.stop_hz],
      nominalHz: target?.nominal_centre_hz ?? null,
    },
    description: "Level against frequency; no scan in view.",
    key: target === null ? [] : nominalKey(target),
  };
}

/** @param {Target | null} target */
function nominalKey(target) {
  if (typeof target?.nominal_centre_hz !== "number") return [];
  return [{ sample: /** @type {const} */ ("nominal"), text: `nominal ${settingText(target.nominal_centre_hz)}` }];
}

/**
 * @param {ScanRecord} record
 * @param {ScanRecord[]} overlays
 */
function describe(record, overlays) {
  const over = overlays.map((each) => `${each.targetName}, scan ${each.id}`).join("; ");
  const aside = unusedReadings(record).length;
  const rough = roughReadings(record).length;
  const all = `${counted(plottedReadings(record).length, "reading")}${aside > 0 ? `, ${aside} not used` : ""}`;
  const taken = rough > 0 ? counted(rough, "rough reading") : all;
  return `Level against frequency of ${record.targetName}: ${taken}. ${resultSentence(record.result)}${over === "" ? "" : ` Laid over it: ${over}.`}`;
}

/**
 * @param {ScanRecord} record
 * @param {ScanRecord[]} overlays
 * @param {Target | null} target
 * @param {(id: string) => void} remove takes a scan off the chart
 * @returns {KeyEntry[]}
 */
function keyOf(record, overlays, target, remove) {
  if (overlays.length > 0) return overlayKey(record, overlays, remove);
  /** @type {KeyEntry[]} */
  const key = [{ sample: "reading", text: "reading" }];
  if (roughReadings(record).length > 0) key.push({ sample: "rough", text: "first look, level rough" });
  const aside = unusedReadings(record).length;
  if (aside > 0) key.push({ sample: "aside", text: `not used (${aside})` });
  const { result } = record;
  if (result?.curve) key.push({ sample: "fit", text: record.final ? "fit, 95 % interval" : "fit so far, 95 % interval" });
  if (typeof result?.centre_hz === "number") key.push({ sample: "centre", text: "centre" });
  if (typeof result?.lower_3db_hz === "number" || typeof result?.upper_3db_hz === "number") {
    key.push({ sample: "edges", text: "3 dB points and width" });
  }
  return [...key, ...nominalKey(target)];
}

/**
 * @param {ScanRecord} record
 * @param {ScanRecord[]} overlays
 * @param {(id: string) => void} remove takes a scan off the chart
 * @returns {KeyEntry[]}
 */
function overlayKey(record, overlays, remove) {
  return [record, ...overlays].map((each, curve) => ({
    sample: /** @type {const} */ ("curve"),
    curve,
    text: `${CURVE_STYLES[curve]?.letter}: ${capital(each.targetName)}, scan ${each.id}, ${moment(each.startedUtc)}`,
    remove: curve === 0 ? null : () => remove(String(each.id)),
  }));
}
