// The scan in view: its name, its run or its ending, the chart, the result.

import { csvAddress, jsonAddress } from "./api.js";
import { byId, fill, make, setText, symbol } from "./dom.js";
import { edgesOf } from "./form.js";
import { createChartPane } from "./chart_pane.js";
import { CURVE_STYLES } from "./chart_theme.js";
import { createReadingsTable } from "./readings_table.js";
import { createResultView, resultSentence } from "./result.js";
import { plottedReadings, roughReadings, unusedReadings } from "./scan_record.js";
import { showSettings } from "./settings_list.js";
import { settingText } from "./units.js";
import { capital, counted, endingWords, moment, timeLeft } from "./words.js";

/** @typedef {import("./scan_record.js").ScanRecord} ScanRecord */
/** @typedef {import("./types.js").Target} Target */
/** @typedef {import("./chart_key.js").KeyEntry} KeyEntry */

/**
 * @typedef {object} ViewActions
 * @property {() => void} stop
 * @property {(record: ScanRecord) => void} useSettings
 * @property {() => void} showRunning
 * @property {(id: string) => void} removeOverlay
 * @property {(id: string) => Target | null} findTarget
 * @property {() => Target | null} chosenTarget
 */

/**
 * @typedef {object} ViewState
 * @property {ScanRecord | null} record
 * @property {ScanRecord[]} overlays
 * @property {boolean} otherRuns whether another scan than this one is running
 */

/** @param {ViewActions} actions */
export function createScanView(actions) {
  const chart = createChartPane();
  const result = createResultView(byId("result", HTMLElement));
  const table = createReadingsTable();
  byId("stop-scan", HTMLButtonElement).addEventListener("click", actions.stop);
  /** @type {string | null} */
  let shownId = null;
  let due = false;
  /** @type {ViewState} */
  let state = { record: null, overlays: [], otherRuns: false };

  const draw = () => {
    due = false;
    const { record, overlays } = state;
    const target = record === null ? actions.chosenTarget() : actions.findTarget(record.target);
    showRun(record);
    showEnding(record);
    result.show(record?.result ?? null, record?.final ?? false, nominalOf(target));
    chart.show(chartContent(record, overlays, target, actions));
    table.show(record === null ? [] : [...record.readings.values()]);
  };

  return {
    prepareChart: chart.prepare,
    scale: chart.scale,
    /** Draw the state again at the next frame, since something in it changed. */
    refresh() {
      if (due) return;
      due = true;
      requestAnimationFrame(draw);
    },
    /** @param {ViewState} next */
    show(next) {
      state = next;
      const id = next.record === null ? null : String(next.record.id);
      if (id !== shownId) chart.reset();
      shownId = id;
      showHead(next, actions);
      showSettings(next.record?.settings ?? null, next.record?.instruments ?? []);
      this.refresh();
    },
    /** @param {string} sentence */
    fail: (sentence) => setText(byId("run-error", HTMLElement), sentence),
    focus: () => byId("view", HTMLElement).focus({ preventScroll: true }),
    /** Bring the view under the eye where the page is one column. */
    reveal: () => byId("view", HTMLElement).scrollIntoView({ block: "start" }),
  };
}

/** @param {Target | null} target */
const nominalOf = (target) => ({ centreHz: target?.nominal_centre_hz ?? null, widthHz: target?.nominal_width_hz ?? null });

/**
 * @param {ViewState} state
 * @param {ViewActions} actions
 */
function showHead({ record, otherRuns }, actions) {
  const title = byId("view-title", HTMLElement);
  const subtitle = byId("view-subtitle", HTMLElement);
  const buttons = [];
  if (otherRuns) buttons.push(make("button", { type: "button", class: "button", onclick: actions.showRunning }, "Show the running scan"));
  if (record === null) {
    setText(title, "No scan in view");
    setText(subtitle, "Set one up and press Scan, or open a kept one.");
  } else {
    setText(title, capital(record.targetName));
    setText(subtitle, `${record.receiver}, scan ${record.id}, ${moment(record.startedUtc)}`);
    if (record.ending !== null) buttons.push(...keptButtons(record, actions));
  }
  fill(byId("view-actions", HTMLElement), ...buttons);
}

/**
 * @param {ScanRecord} record
 * @param {ViewActions} actions
 */
function keptButtons(record, actions) {
  return [
    make("button", { type: "button", class: "button button--small", onclick: () => actions.useSettings(record) }, "Use these settings"),
    make("a", { class: "button button--small", href: csvAddress(record.id), download: true }, "Download CSV"),
    make("a", { class: "button button--small", href: jsonAddress(record.id), download: true }, "Download JSON"),
    make("button", { type: "button", class: "button button--small", onclick: () => print() }, "Print"),
  ];
}

/** @param {ScanRecord | null} record */
function showRun(record) {
  const running = record !== null && record.ending === null;
  byId("run", HTMLElement).hidden = !running;
  if (!running) {
    setText(byId("run-error", HTMLElement), "");
    return;
  }
  const bar = byId("run-progress", HTMLProgressElement);
  if (record.progress === null) bar.removeAttribute("value");
  else bar.value = record.progress.done;
  const { done, left } = runWords(record);
  setText(byId("run-done", HTMLElement), done);
  setText(byId("run-left", HTMLElement), left);
}

/** @param {ScanRecord} record */
function runWords({ progress, readings, notices }) {
  if (progress !== null) return { done: progress.text, left: timeLeft(progress.remaining_s) };
  const done = readings.size === 0 ? "Starting" : `${counted(readings.size, "reading")} taken`;
  return { done, left: notices.at(-1) ?? "" };
}

/** @param {ScanRecord | null} record */
function showEnding(record) {
  const host = byId("ending", HTMLElement);
  host.hidden = record === null || record.ending === null || record.ending === "completed";
  if (record === null || host.hidden) return;
  const { symbol: picture, word } = endingWords(record.ending);
  host.dataset.ending = record.ending ?? "";
  fill(host, symbol(picture), make("p", {}, make("strong", {}, capital(word)), ` ${record.endingText ?? ""}`));
}

/**
 * @param {ScanRecord | null} record
 * @param {ScanRecord[]} overlays
 * @param {Target | null} target
 * @param {ViewActions} actions
 * @returns {import("./chart_pane.js").ChartContent}
 */
function chartContent(record, overlays, target, actions) {
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
    key: keyOf(record, overlays, target, actions),
  };
}

/**
 * Before a scan, the chart already spans what would be scanned.
 * @param {Target | null} target
 * @returns {import("./chart_pane.js").ChartContent}
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
 * @param {ViewActions} actions
 * @returns {KeyEntry[]}
 */
function keyOf(record, overlays, target, actions) {
  if (overlays.length > 0) return overlayKey(record, overlays, actions);
  /** @type {KeyEntry[]} */
  const key = [{ sample: "reading", text: "reading" }];
  if (roughReadings(record).length > 0) key.push({ sample: "rough", text: "first look, level rough" });
  const aside = unusedReadings(record).length;
  if (aside > 0) key.push({ sample: "aside", text: `not used (${aside})` });
  const { result } = record;
  if (result?.curve) key.push({ sample: "fit", text: record.final ? "fit, ± one sigma" : "fit so far, ± one sigma" });
  if (typeof result?.centre_hz === "number") key.push({ sample: "centre", text: "centre" });
  if (typeof result?.lower_3db_hz === "number" || typeof result?.upper_3db_hz === "number") {
    key.push({ sample: "edges", text: "3 dB points and width" });
  }
  return [...key, ...nominalKey(target)];
}

/**
 * @param {ScanRecord} record
 * @param {ScanRecord[]} overlays
 * @param {ViewActions} actions
 * @returns {KeyEntry[]}
 */
function overlayKey(record, overlays, actions) {
  return [record, ...overlays].map((each, curve) => ({
    sample: /** @type {const} */ ("curve"),
    curve,
    text: `${CURVE_STYLES[curve]?.letter}: ${capital(each.targetName)}, scan ${each.id}, ${moment(each.startedUtc)}`,
    remove: curve === 0 ? null : () => actions.removeOverlay(String(each.id)),
  }));
}
