// The scan page: set one up, watch it come, read it, keep it; each part is made once, and joined to the others here.

import { sentence } from "../shared/api.js";
import { byId } from "../shared/dom.js";
import { addressOf, rename } from "../shared/router.js";
import { endingWords } from "../shared/words.js";
import { Desk } from "./desk.js";
import { ScanForm } from "./form.js";
import { KeptList } from "./kept.js";
import { resultSentence } from "./result.js";
import { ScanView } from "./view.js";

/** @typedef {import("../shared/types.js").Bench} Bench */
/** @typedef {import("../shared/types.js").ScanOrder} ScanOrder */
/** @typedef {import("../shared/router.js").Place} Place */
/** @typedef {import("./record.js").ScanRecord} ScanRecord */

export class ScanPage {
  title = "Scan";
  host = byId("scan-page", HTMLElement);
  #context;
  #form = new ScanForm({ onScan: (order) => this.#scan(order), onTarget: () => this.#view.refresh() });
  #kept = new KeptList({ open: (id) => this.#open(id, []), overlay: (id, on) => this.#overlay(id, on) });
  #desk;
  #view;
  /** Whether a scan has been in view: the first that is found running at the start is brought under the eye. */
  #seen = false;
  #inFront = false;
  #chartAsked = false;
  #quarters = 0;

  /** @param {import("../page.js").Context} context */
  constructor(context) {
    this.#context = context;
    this.#desk = new Desk(context.api, {
      onArranged: () => this.#arranged(),
      onFolded: () => this.#view.refresh(),
      onEvent: (record, event) => this.#event(record, event),
      onEnded: (record) => this.#ended(record),
      onTrouble: (error) => this.#kept.fail(sentence(error)),
    });
    this.#view = new ScanView({
      stop: () => this.stop(),
      useSettings: (record) => this.#useSettings(record),
      showRunning: () => this.#desk.showRunning(),
      removeOverlay: (id) => this.#overlay(id, false),
      findTarget: (id) => this.#form.targets.find(id),
      chosenTarget: () => this.#form.targets.chosen,
    });
    this.#view.show({ record: null, overlays: [], otherRuns: false });
  }

  get running() {
    return this.#desk.running;
  }

  /**
   * @param {Place} place
   * @param {boolean} moved whether the person came here from elsewhere on the page
   */
  show({ path, query }, moved) {
    const first = !this.#chartAsked;
    this.#inFront = this.#chartAsked = true;
    // The charting library takes its tenths of a second only once there is something to read and press.
    if (first) this.#loadTargets().finally(() => this.#view.prepareChart());
    const [, id] = path;
    if (id === undefined) this.#arranged();
    else if (id !== String(this.#desk.view?.id))
      this.#openPlace(
        id,
        (query.over ?? "").split(",").filter((each) => each !== ""),
        moved,
      );
  }

  hide() {
    this.#inFront = false;
  }

  /** @param {Bench} bench */
  bench(bench) {
    this.#desk.agree(bench.busy_run === null || bench.session ? null : String(bench.busy_run));
    this.situation();
  }

  /** What may be done from here has changed. */
  situation() {
    this.#form.block(this.#reasonNotToScan());
  }

  /** @param {import("../shared/types.js").LiveEvent} item */
  take(item) {
    this.#desk.take(item);
  }

  /** The stream stands again, or some of it was missed. */
  async reread() {
    await Promise.all([this.#desk.reread(), this.#chartAsked && this.#loadTargets(), this.listKept()]);
  }

  /** The keys that work wherever the focus is. */
  /** The stream stands for the first time: what was read before it did may lack what was told in between. */
  async opened() {
    await Promise.all([this.#desk.reread(), this.listKept()]);
  }

  submit() {
    this.#form.submit();
  }

  async stop() {
    try {
      await this.#context.api.stop();
      this.#context.announce("Stop asked for.");
    } catch (error) {
      this.#view.fail(sentence(error));
    }
  }

  async listKept() {
    try {
      this.#kept.show(await this.#context.api.scans());
    } catch (error) {
      this.#kept.fail(sentence(error));
    }
  }

  /** @returns {string | null} */
  #reasonNotToScan() {
    const refused = this.#context.situation.refusal("to scan");
    if (refused !== null) return refused;
    if (this.#desk.running !== null) return "A scan is running.";
    return this.#form.targets.chosen === null ? "There is nothing to scan yet: no receiver is known." : null;
  }

  #arranged() {
    const { view: record, running, overlays } = this.#desk;
    this.#view.show({ record, overlays, otherRuns: running !== null && running.id !== record?.id });
    if (record !== null && !this.#seen) {
      this.#seen = true;
      if (record.ending === null && this.#inFront) this.#view.reveal();
    }
    const ids = [record, ...overlays].filter((each) => each !== null).map(({ id }) => String(id));
    this.#kept.mark(ids);
    if (this.#inFront)
      rename(ids[0] === undefined ? "#/scan" : addressOf(["scans", ids[0]], { over: ids.slice(1).join(",") }));
    this.situation();
  }

  /**
   * @param {ScanRecord} record
   * @param {import("../shared/types.js").RunEvent} event
   */
  #event(record, event) {
    if (event.kind === "Notice") this.#context.announce(event.text);
    if (event.kind === "Progress") this.#progress(record.id, event.done);
  }

  /**
   * Tell a screen reader each quarter of a run, not each reading.
   * @param {string | number} id
   * @param {number} done
   */
  #progress(id, done) {
    const now = Math.floor(done * 4);
    if (now > this.#quarters && now < 4) this.#context.announce(`Scan ${id}: ${now * 25} percent done.`);
    this.#quarters = now;
  }

  /** @param {ScanRecord} record */
  #ended(record) {
    const { word } = endingWords(record.ending);
    const text = record.ending === "completed" ? resultSentence(record.result) : (record.endingText ?? "");
    this.#context.announce(`Scan ${word}. ${text}`);
    this.listKept();
  }

  /** @param {ScanOrder} order */
  async #scan(order) {
    this.#context.announce("Scan asked for.");
    try {
      const { id } = await this.#context.api.startScan(order);
      await this.#desk.started(String(id));
      this.#view.reveal();
      this.#context.announce("Scan started.");
      this.listKept();
    } catch (error) {
      this.#form.fail(sentence(error));
    }
  }

  /** @param {ScanRecord} record */
  #useSettings(record) {
    this.#form.fill(record.target, record.settings);
    byId("setup", HTMLElement).focus();
    this.#context.announce("The form holds the settings of this scan.");
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
      this.#context.announce(`Scan ${id} is in view.`);
    } catch (error) {
      this.#kept.fail(sentence(error));
    }
  }

  /**
   * Open what the address names; at the start, without taking the focus.
   * @param {string} id
   * @param {string[]} over
   * @param {boolean} moved
   */
  async #openPlace(id, over, moved) {
    if (moved) await this.#open(id, over);
    else await this.#desk.open(id, over).catch((error) => this.#kept.fail(sentence(error)));
  }

  /**
   * @param {string} id
   * @param {boolean} on
   */
  async #overlay(id, on) {
    try {
      await this.#desk.overlay(id, on);
      if (on) this.#view.scale("peak");
      this.#context.announce(on ? `Scan ${id} is laid over the chart.` : `Scan ${id} is off the chart.`);
    } catch (error) {
      this.#kept.fail(sentence(error));
    }
  }

  async #loadTargets() {
    try {
      this.#form.targets.show(await this.#context.api.targets());
      this.#arranged();
    } catch (error) {
      this.#form.targets.fail(sentence(error));
    }
  }
}
