// What lies on the desk: the scan in view, the scans laid over it, and the one that runs; and how live events reach them.

import { applyEvent, recordOf } from "./record.js";
import { RunReader } from "./run_reader.js";

/** @typedef {import("../shared/api.js").Api} Api */
/** @typedef {import("./record.js").ScanRecord} ScanRecord */
/** @typedef {import("../shared/types.js").LiveEvent} LiveEvent */

/**
 * @typedef {object} DeskListener
 * @property {() => void} onArranged another scan is in view, running or laid over
 * @property {() => void} onFolded an event changed a scan on the desk
 * @property {(record: ScanRecord, event: import("../shared/types.js").RunEvent) => void} onEvent
 * @property {(record: ScanRecord) => void} onEnded with the record as it is kept
 * @property {(error: unknown) => void} onTrouble
 */

export class Desk {
  /** @type {ScanRecord | null} */
  #view = null;
  /** @type {ScanRecord | null} */
  #running = null;
  /** @type {ScanRecord[]} */
  #overlays = [];
  /** Whether a scan that starts comes into view by itself: until the person opens a kept one. */
  #following = true;
  /** The scan that this page started and that has not come into view yet. @type {string | null} */
  #wanted = null;
  #api;
  #reader;
  #listener;

  /**
   * @param {Api} api
   * @param {DeskListener} listener
   */
  constructor(api, listener) {
    this.#api = api;
    this.#reader = new RunReader(api);
    this.#listener = listener;
  }

  get view() {
    return this.#view;
  }

  get running() {
    return this.#running;
  }

  get overlays() {
    return this.#overlays;
  }

  /** @param {LiveEvent} item */
  take({ run, seq, event }) {
    const id = String(run);
    if (this.#reader.keep({ run, seq, event })) return;
    if (this.#running === null || !is(this.#running, id)) {
      if (event.kind === "RunEnded") this.#settle(id);
      else this.#follow(id);
      return;
    }
    if (!applyEvent(this.#running, seq, event)) return;
    this.#listener.onFolded();
    this.#listener.onEvent(this.#running, event);
    if (event.kind === "RunEnded") this.#settle(id);
  }

  /**
   * Agree with what the service says is running now.
   * @param {string | null} busyRun
   */
  agree(busyRun) {
    const known = this.#running === null ? null : String(this.#running.id);
    if (busyRun !== null && busyRun !== known) this.#follow(busyRun);
    if (known !== null && busyRun !== known) this.#settle(known);
  }

  /** Read everything on the desk again: events may have been missed. */
  async reread() {
    this.#reader.readAgain();
    const ids = new Set([this.#view, this.#running].filter((each) => each !== null).map(({ id }) => String(id)));
    await Promise.all([...ids].map((id) => this.#follow(id)));
  }

  /**
   * Bring a scan into view, with others over it.
   * @param {string} id
   * @param {string[]} over
   */
  async open(id, over) {
    const others = await Promise.all(over.map((each) => this.#fetch(each)));
    const read = this.#running !== null && is(this.#running, id) ? this.#running : await this.#reader.read(id);
    const record = this.#running !== null && is(this.#running, id) && read.ending === null ? this.#running : read;
    this.#view = record;
    this.#overlays = others;
    if (record.ending === null) this.#running ??= record;
    this.#following = record.ending === null;
    this.#listener.onArranged();
  }

  /**
   * @param {string} id
   * @param {boolean} on
   */
  async overlay(id, on) {
    // Fetched first: another may be laid over, or taken off, while this one is on its way.
    const record = on ? await this.#fetch(id) : null;
    const others = this.#overlays.filter((each) => !is(each, id));
    this.#overlays = record === null ? others : [...others, record];
    this.#listener.onArranged();
  }

  /**
   * A scan was started from this page: it comes into view.
   * @param {string} id
   */
  async started(id) {
    this.#following = true;
    this.#wanted = id;
    await this.#follow(id);
  }

  showRunning() {
    if (this.#running === null) return;
    this.#following = true;
    this.#view = this.#running;
    this.#overlays = [];
    this.#listener.onArranged();
  }

  /** @param {string} id */
  async #fetch(id) {
    return recordOf(await this.#api.scan(id));
  }

  /**
   * Fetch a run's document; what happens meanwhile waits, and is folded in after.
   * @param {string} id
   */
  async #follow(id) {
    try {
      this.#adopt(await this.#reader.read(id));
    } catch (error) {
      this.#listener.onTrouble(error);
    }
  }

  /** @param {ScanRecord} record */
  #adopt(record) {
    if (record.ofJob) return;
    const id = String(record.id);
    if (record.ending === null) this.#running = record;
    else if (this.#running !== null && is(this.#running, id)) this.#running = null;
    const isWanted = this.#wanted === id;
    if (isWanted) this.#wanted = null;
    if (this.#view !== null && is(this.#view, id)) this.#view = record;
    else if (isWanted || (this.#following && record.ending === null)) {
      this.#view = record;
      this.#overlays = [];
    }
    this.#listener.onArranged();
    if (record.ending === null) return;
    // A short scan may be over before the page has heard of its beginning.
    if (!record.final) this.#settle(id);
    else if (isWanted) this.#listener.onEnded(record);
  }

  /**
   * The run is over: take what was kept, which is the last word.
   * @param {string} id
   */
  async #settle(id) {
    try {
      const record = await this.#fetch(id);
      if (this.#running !== null && is(this.#running, id)) this.#running = null;
      if (this.#view !== null && is(this.#view, id)) this.#view = record;
      this.#overlays = this.#overlays.map((each) => (is(each, id) ? record : each));
      this.#listener.onArranged();
      this.#listener.onEnded(record);
    } catch (error) {
      this.#listener.onTrouble(error);
    }
  }
}

/**
 * @param {ScanRecord} record
 * @param {string} id
 */
const is = (record, id) => String(record.id) === id;
