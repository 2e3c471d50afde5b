// The page as a whole: each part is made once, and joined to the others here.

import { createAnnouncer } from "./shared/announce.js";
import { createApi, sentence } from "./shared/api.js";
import { createBanners } from "./shared/banners.js";
import { createBenchStrip } from "./bench/strip.js";
import { Desk } from "./scan/desk.js";
import { byId } from "./shared/dom.js";
import { ScanForm } from "./scan/form.js";
import { KeptList } from "./scan/kept.js";
import { openLive } from "./shared/stream.js";
import { resultSentence } from "./scan/result.js";
import { readPlace, watchPlace, writePlace } from "./shared/router.js";
import { ScanView } from "./scan/view.js";
import { listenForShortcuts } from "./shared/shortcuts.js";
import { Situation } from "./shared/situation.js";
import { endingWords } from "./shared/words.js";

/** @typedef {import("./shared/types.js").Bench} Bench */
/** @typedef {import("./shared/types.js").ScanOrder} ScanOrder */
/** @typedef {import("./scan/record.js").ScanRecord} ScanRecord */

export class Page {
  #client;
  #api;
  #announce = createAnnouncer();
  #banners = createBanners();
  #strip = createBenchStrip({ outputOff: () => this.#outputOff(), lookAgain: () => this.#lookAgain() });
  #form = new ScanForm({ onScan: (order) => this.#scan(order), onTarget: () => this.#view.refresh() });
  #kept = new KeptList({ open: (id) => this.#open(id, []), overlay: (id, on) => this.#overlay(id, on) });
  #desk;
  #view;
  #situation;
  /** Whether a scan has been in view: the first that is found running at the start is brought under the eye. */
  #seen = false;

  /** @param {string} client this tab's name */
  constructor(client) {
    this.#client = client;
    this.#api = createApi(client);
    this.#desk = new Desk(this.#api, {
      onArranged: () => this.#arranged(),
      onFolded: () => this.#view.refresh(),
      onEvent: (record, event) => this.#event(record, event),
      onEnded: (record) => this.#ended(record),
      onTrouble: (error) => this.#kept.fail(sentence(error)),
    });
    this.#view = this.#makeView();
    this.#situation = new Situation({
      strip: this.#strip,
      banners: this.#banners,
      form: this.#form,
      desk: this.#desk,
      takeOver: () => this.#takeOver(),
      lookAgain: () => this.#lookAgain(),
      announce: this.#announce,
    });
  }

  /** Begin: listen to the keyboard and to the service, and show what there is. */
  start() {
    listenForShortcuts({
      scan: () => this.#form.submit(),
      stop: () => this.#desk.running !== null && this.#stop(),
      outputOff: () => this.#outputOff(),
    });
    watchPlace(({ scan, over }) => scan !== null && this.#open(scan, over));
    this.#view.show({ record: null, overlays: [], otherRuns: false });
    this.#listen();
    this.#openPlace();
    // The charting library takes its tenths of a second only once there is something to read and press.
    this.#loadTargets().finally(() => this.#view.prepareChart());
  }

  #makeView() {
    return new ScanView({
      stop: () => this.#stop(),
      useSettings: (record) => this.#useSettings(record),
      showRunning: () => this.#desk.showRunning(),
      removeOverlay: (id) => this.#overlay(id, false),
      findTarget: (id) => this.#form.targets.find(id),
      chosenTarget: () => this.#form.targets.chosen,
    });
  }

  /**
   * A hidden tab that only watches gives its stream back: browsers allow few to one address. The operator's stream is
   * its heartbeat and stays.
   */
  #listen() {
    const live = openLive(this.#client, {
      onItems: (items) => this.#items(items),
      onOpen: () => this.#opened(),
      onLost: () => this.#situation.lost(),
    });
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") live.wake();
      else if (!this.#situation.operating) live.sleep();
    });
    addEventListener("online", () => live.wake());
  }

  /** @param {import("./shared/types.js").LiveItem[]} items */
  #items(items) {
    for (const item of items) {
      if ("bench" in item) this.#bench(item.bench);
      else if ("missed" in item) this.#desk.reread();
      else this.#desk.take(item);
    }
  }

  /** @param {Bench} bench */
  #bench(bench) {
    this.#situation.bench(bench);
    this.#desk.agree(bench.busy_run === null ? null : String(bench.busy_run));
  }

  /** The stream stands, for the first time or again: what was missed is read from the service. */
  async #opened() {
    const again = this.#situation.found();
    try {
      this.#bench(await this.#api.bench());
      if (again) await Promise.all([this.#desk.reread(), this.#loadTargets()]);
      await this.#listKept();
    } catch (error) {
      this.#kept.fail(sentence(error));
    }
  }

  #arranged() {
    const { view: record, running, overlays } = this.#desk;
    this.#view.show({ record, overlays, otherRuns: running !== null && running.id !== record?.id });
    if (record !== null && !this.#seen) {
      this.#seen = true;
      if (record.ending === null) this.#view.reveal();
    }
    const ids = [record, ...overlays].filter((each) => each !== null).map(({ id }) => String(id));
    this.#kept.mark(ids);
    writePlace({ scan: ids[0] ?? null, over: ids.slice(1) });
    this.#situation.refresh();
  }

  /**
   * @param {ScanRecord} record
   * @param {import("./shared/types.js").RunEvent} event
   */
  #event(record, event) {
    if (event.kind === "SourceChanged") this.#strip.output(event.output_on);
    if (event.kind === "Notice") this.#announce(event.text);
    if (event.kind === "Progress") this.#situation.progress(record.id, event.done);
  }

  /** @param {ScanRecord} record */
  #ended(record) {
    const { word } = endingWords(record.ending);
    const text = record.ending === "completed" ? resultSentence(record.result) : (record.endingText ?? "");
    this.#announce(`Scan ${word}. ${text}`);
    this.#listKept();
  }

  /** @param {ScanOrder} order */
  async #scan(order) {
    this.#announce("Scan asked for.");
    try {
      const { id } = await this.#api.startScan(order);
      await this.#desk.started(String(id));
      this.#view.reveal();
      this.#announce("Scan started.");
      this.#listKept();
    } catch (error) {
      this.#form.fail(sentence(error));
    }
  }

  async #stop() {
    try {
      await this.#api.stop();
      this.#announce("Stop asked for.");
    } catch (error) {
      this.#view.fail(sentence(error));
    }
  }

  async #outputOff() {
    try {
      await this.#api.outputOff();
      this.#banners.clear("run");
      this.#announce("Output off asked for.");
    } catch (error) {
      this.#refused(`The output may still be on: ${sentence(error)} Switch it off at the source itself.`);
    }
  }

  async #takeOver() {
    try {
      await this.#api.takeOver();
      this.#bench(await this.#api.bench());
      this.#announce("You operate the bench now.");
    } catch (error) {
      this.#refused(sentence(error));
    }
  }

  async #lookAgain() {
    try {
      this.#bench(await this.#api.lookAgain());
      this.#announce("The bench has been looked over again.");
    } catch (error) {
      this.#refused(sentence(error));
    }
  }

  /** @param {string} text */
  #refused(text) {
    this.#banners.show("run", {
      symbol: "cross",
      tone: "grave",
      text,
      button: { label: "Close", act: () => this.#banners.clear("run") },
    });
  }

  /** @param {ScanRecord} record */
  #useSettings(record) {
    this.#form.fill(record.target, record.settings);
    byId("setup", HTMLElement).focus();
    this.#announce("The form holds the settings of this scan.");
  }

  /**
   * @param {string} id
   * @param {string[]} over
   */
  async #open(id, over) {
    try {
      await this.#desk.open(id, over);
      this.#view.focus();
      this.#view.reveal();
      this.#announce(`Scan ${id} is in view.`);
    } catch (error) {
      this.#kept.fail(sentence(error));
    }
  }

  /** Open what the address names, without taking the focus. */
  async #openPlace() {
    const { scan, over } = readPlace();
    if (scan === null) return;
    await this.#desk.open(scan, over).catch((error) => this.#kept.fail(sentence(error)));
  }

  /**
   * @param {string} id
   * @param {boolean} on
   */
  async #overlay(id, on) {
    try {
      await this.#desk.overlay(id, on);
      if (on) this.#view.scale("peak");
      this.#announce(on ? `Scan ${id} is laid over the chart.` : `Scan ${id} is off the chart.`);
    } catch (error) {
      this.#kept.fail(sentence(error));
    }
  }

  async #loadTargets() {
    try {
      this.#form.targets.show(await this.#api.targets());
      this.#arranged();
    } catch (error) {
      this.#form.targets.fail(sentence(error));
    }
  }

  async #listKept() {
    try {
      this.#kept.show(await this.#api.scans());
    } catch (error) {
      this.#kept.fail(sentence(error));
    }
  }
}
