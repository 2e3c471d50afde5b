// The scan in view: its name, its run or its ending, the chart, the result.

import { csvAddress, jsonAddress } from "../shared/api.js";
import { byId, fill, make, setText, symbol } from "../shared/dom.js";
import { chartContent } from "./chart_content.js";
import { ChartPane } from "../chart/pane.js";
import { createReadingsTable } from "./readings_table.js";
import { ResultView } from "./result.js";
import { showSettings } from "./settings_list.js";
import { capital, counted, endingWords, moment, timeLeft } from "../shared/words.js";

/** @typedef {import("./record.js").ScanRecord} ScanRecord */
/** @typedef {import("../shared/types.js").Target} Target */

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

export class ScanView {
  #host = byId("view", HTMLElement);
  #chart = new ChartPane(byId("chart", HTMLElement), "chart");
  #result = new ResultView();
  #table = createReadingsTable();
  #actions;
  /** @type {string | null} */
  #shownId = null;
  #due = false;
  /** @type {ViewState} */
  #state = { record: null, overlays: [], otherRuns: false };

  /** @param {ViewActions} actions */
  constructor(actions) {
    this.#actions = actions;
    byId("stop-scan", HTMLButtonElement).addEventListener("click", actions.stop);
  }

  /** Fetch what draws the chart. To be called once. */
  prepareChart() {
    return this.#chart.prepare();
  }

  /** @param {"measured" | "peak"} scale */
  scale(scale) {
    this.#chart.scale(scale);
  }

  /** Draw the state again at the next frame, since something in it changed. */
  refresh() {
    if (this.#due) return;
    this.#due = true;
    requestAnimationFrame(() => this.#draw());
  }

  /** @param {ViewState} next */
  show(next) {
    this.#state = next;
    const id = next.record === null ? null : String(next.record.id);
    if (id !== this.#shownId) this.#chart.reset();
    this.#shownId = id;
    showHead(next, this.#actions);
    showSettings(next.record?.settings ?? null, next.record?.instruments ?? []);
    this.refresh();
  }

  /** @param {string} sentence */
  fail(sentence) {
    setText(byId("run-error", HTMLElement), sentence);
  }

  focus() {
    this.#host.focus({ preventScroll: true });
  }

  /** Bring the view under the eye where the page is one column. */
  reveal() {
    this.#host.scrollIntoView({ block: "start" });
  }

  #draw() {
    this.#due = false;
    const { record, overlays } = this.#state;
    const { chosenTarget, findTarget, removeOverlay } = this.#actions;
    const target = record === null ? chosenTarget() : findTarget(record.target);
    showRun(record);
    showEnding(record);
    this.#result.show(record?.result ?? null, record?.final ?? false, nominalOf(target));
    this.#chart.show(chartContent(record, overlays, target, removeOverlay));
    this.#table.show(record === null ? [] : [...record.readings.values()]);
  }
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
