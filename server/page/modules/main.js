// Where the page begins: each part is made once and joined to the others here.

import { createAnnouncer } from "./announce.js";
import { createApi, sentence } from "./api.js";
import { createBanners } from "./banners.js";
import { createBenchStrip } from "./bench.js";
import { byId } from "./dom.js";
import { createDesk } from "./desk.js";
import { createForm } from "./form.js";
import { clientName } from "./identity.js";
import { createKeptList } from "./kept.js";
import { openLive } from "./live.js";
import { resultSentence } from "./result.js";
import { readPlace, watchPlace, writePlace } from "./router.js";
import { createScanView } from "./scan_view.js";
import { listenForShortcuts } from "./shortcuts.js";
import { createSituation } from "./situation.js";
import { watchStripHeight } from "./strip_height.js";
import { endingWords } from "./words.js";

/** @typedef {import("./types.js").Bench} Bench */
/** @typedef {import("./types.js").ScanOrder} ScanOrder */

const client = await clientName();
const api = createApi(client);
const announce = createAnnouncer();
const banners = createBanners();
const strip = createBenchStrip({ outputOff, lookAgain });
const form = createForm({ onScan: scan, onTarget: () => view.refresh() });
const kept = createKeptList({ open: (id) => open(id, []), overlay });
const desk = createDesk(api, { onArranged, onFolded, onEvent, onEnded, onTrouble: (error) => kept.fail(sentence(error)) });
const view = createScanView({
  stop,
  useSettings: (record) => {
    form.fill(record.target, record.settings);
    byId("setup", HTMLElement).focus();
    announce("The form holds the settings of this scan.");
  },
  showRunning: () => desk.showRunning(),
  removeOverlay: (id) => overlay(id, false),
  findTarget: (id) => form.targets.find(id),
  chosenTarget: () => form.targets.chosen(),
});
const situation = createSituation({ strip, banners, form, desk, takeOver, lookAgain, announce });

listenForShortcuts({ scan: () => form.submit(), stop: () => desk.running() !== null && stop(), outputOff });
watchStripHeight();
setUpKeysDialog();
watchPlace(({ scan: id, over }) => id !== null && open(id, over));
view.show({ record: null, overlays: [], otherRuns: false });

/** Whether a scan has been in view: the first that is found running at the start is brought under the eye. */
let seen = false;

const live = openLive(client, { onItems, onOpen, onLost: situation.lost });
sleepWhenHidden();
openPlace();
// The charting library takes its tenths of a second only once there is something to read and press.
loadTargets().finally(view.prepareChart);

/** @param {import("./types.js").LiveItem[]} items */
function onItems(items) {
  for (const item of items) {
    if ("bench" in item) onBench(item.bench);
    else if ("missed" in item) desk.reread();
    else desk.take(item);
  }
}

/** @param {Bench} bench */
function onBench(bench) {
  situation.bench(bench);
  desk.agree(bench.busy_run === null ? null : String(bench.busy_run));
}

/** The stream stands, for the first time or again: what was missed is read from the service. */
async function onOpen() {
  const again = situation.found();
  try {
    onBench(await api.bench());
    if (again) await Promise.all([desk.reread(), loadTargets()]);
    await listKept();
  } catch (error) {
    kept.fail(sentence(error));
  }
}

function onArranged() {
  const record = desk.view();
  const running = desk.running();
  const overlays = desk.overlays();
  const otherRuns = running !== null && running.id !== record?.id;
  view.show({ record, overlays, otherRuns });
  if (record !== null && !seen) {
    seen = true;
    if (record.ending === null) view.reveal();
  }
  const ids = [record, ...overlays].filter((each) => each !== null).map(({ id }) => String(id));
  kept.mark(ids);
  writePlace({ scan: ids[0] ?? null, over: ids.slice(1) });
  situation.refresh();
}

function onFolded() {
  view.refresh();
}

/**
 * @param {import("./scan_record.js").ScanRecord} record
 * @param {import("./types.js").RunEvent} event
 */
function onEvent(record, event) {
  if (event.kind === "SourceChanged") strip.output(event.output_on);
  if (event.kind === "Notice") announce(event.text);
  if (event.kind === "Progress") situation.progress(record.id, event.done);
}

/** @param {import("./scan_record.js").ScanRecord} record */
function onEnded(record) {
  const { word } = endingWords(record.ending);
  const text = record.ending === "completed" ? resultSentence(record.result) : (record.endingText ?? "");
  announce(`Scan ${word}. ${text}`);
  listKept();
}

/** @param {ScanOrder} order */
async function scan(order) {
  announce("Scan asked for.");
  try {
    const { id } = await api.startScan(order);
    await desk.started(String(id));
    view.reveal();
    announce("Scan started.");
    listKept();
  } catch (error) {
    form.fail(sentence(error));
  }
}

async function stop() {
  try {
    await api.stop();
    announce("Stop asked for.");
  } catch (error) {
    view.fail(sentence(error));
  }
}

async function outputOff() {
  try {
    await api.outputOff();
    banners.clear("run");
    announce("Output off asked for.");
  } catch (error) {
    banners.show("run", { symbol: "cross", tone: "grave", text: `The output may still be on: ${sentence(error)} Switch it off at the source itself.` });
  }
}

async function takeOver() {
  try {
    await api.takeOver();
    onBench(await api.bench());
    announce("You operate the bench now.");
  } catch (error) {
    banners.show("run", { symbol: "cross", tone: "grave", text: sentence(error) });
  }
}

async function lookAgain() {
  try {
    onBench(await api.lookAgain());
  } catch (error) {
    banners.show("run", { symbol: "cross", tone: "grave", text: sentence(error) });
  }
}

/**
 * @param {string} id
 * @param {string[]} over
 */
async function open(id, over) {
  try {
    await desk.open(id, over);
    view.focus();
    view.reveal();
    announce(`Scan ${id} is in view.`);
  } catch (error) {
    kept.fail(sentence(error));
  }
}

/**
 * @param {string} id
 * @param {boolean} on
 */
async function overlay(id, on) {
  try {
    await desk.overlay(id, on);
    if (on) view.scale("peak");
    announce(on ? `Scan ${id} is laid over the chart.` : `Scan ${id} is off the chart.`);
  } catch (error) {
    kept.fail(sentence(error));
  }
}

async function openPlace() {
  const { scan: id, over } = readPlace();
  if (id !== null) await desk.open(id, over).catch((error) => kept.fail(sentence(error)));
}

async function loadTargets() {
  try {
    form.targets.show(await api.targets());
    onArranged();
  } catch (error) {
    form.targets.fail(sentence(error));
  }
}

async function listKept() {
  try {
    kept.show(await api.scans());
  } catch (error) {
    kept.fail(sentence(error));
  }
}

/**
 * A hidden tab that only watches gives its stream back: browsers allow few to one address. The operator's stream is its
 * heartbeat and stays.
 */
function sleepWhenHidden() {
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") live.wake();
    else if (!situation.operating()) live.sleep();
  });
  addEventListener("online", () => live.wake());
}

function setUpKeysDialog() {
  const dialog = byId("keys", HTMLDialogElement);
  byId("keys-open", HTMLButtonElement).addEventListener("click", () => dialog.showModal());
}
