// What a scan was taken with: its settings and the instruments that took it.

import { byId, fill, make } from "../shared/dom.js";
import { edgesOf } from "./range.js";
import { secondsText, settingText, signed, trimmed } from "../shared/units.js";
import { capital, inWords, lawWords } from "../shared/words.js";

/** @typedef {import("../shared/types.js").ScanSettings} ScanSettings */
/** @typedef {import("../shared/types.js").Instrument} Instrument */

/**
 * @param {ScanSettings | null} settings
 * @param {Instrument[]} instruments
 */
export function showSettings(settings, instruments) {
  byId("settings-list", HTMLElement).hidden = settings === null;
  if (settings === null) return;
  const rows = [...settingRows(settings), ...instruments.map(instrumentRow)];
  const list = make("dl", { class: "facts" }, ...rows.map(([name, text]) => make("div", {}, make("dt", {}, name), make("dd", {}, text))));
  fill(byId("settings-body", HTMLElement), list);
}

/**
 * @param {ScanSettings} settings
 * @returns {[string, string][]}
 */
function settingRows(settings) {
  const edges = edgesOf(settings);
  return [
    ["Range", edges === null ? "–" : `${settingText(edges.startHz)} to ${settingText(edges.stopHz)}`],
    ["Source level", signed(settings.level_dbm, "dBm")],
    ["Settle", secondsText(settings.settle_s)],
    ["Detector", lawWords(settings.detector)],
    ["Frequencies", frequencies(settings)],
    ...hookupRows(settings.hookup ?? null),
  ];
}

/**
 * @param {import("../shared/types.js").Hookup | null} hookup
 * @returns {[string, string][]}
 */
function hookupRows(hookup) {
  if (hookup === null) return [];
  const through = hookup.source_through ? `, through ${hookup.source_through}` : "";
  const controls = Object.entries(hookup.controls ?? {}).map(([name, value]) => `${inWords(name)} ${value}`);
  /** @type {[string, string][]} */
  const rows = [
    ["Source to", `${hookup.source_to ?? "–"}${through}`],
    ["Meter to", hookup.meter_to ?? "–"],
    ["Controls", controls.join(", ") || "–"],
  ];
  return rows;
}

/** @param {ScanSettings} settings */
function frequencies({ readings, until_centre_percent: until }) {
  if (readings !== null) return `even sweep of ${readings}`;
  return until === null ? "chosen as the scan went" : `chosen as the scan went, until the centre was known to ${trimmed(until)} % of the 3 dB width`;
}

/**
 * @param {Instrument} instrument
 * @returns {[string, string]}
 */
function instrumentRow({ role, identity, address }) {
  return [capital(role), [identity, address].filter(Boolean).join(" at ") || "–"];
}
