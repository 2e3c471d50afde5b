// Reads a run from the record and lets no live event slip by meanwhile: what comes while it is being read is applied to
// what was read. Every event is in the record before it is told, so that a record read once the stream stands lacks
// nothing that the stream will not tell; one asked for before the stream stood must be read again.

import { applyEvent, recordOf } from "./record.js";

/** @typedef {import("./record.js").ScanRecord} ScanRecord */
/** @typedef {import("../shared/types.js").LiveEvent} LiveEvent */

/** @typedef {{items: LiveEvent[], again: boolean, done: Promise<ScanRecord>}} Reading */

export class RunReader {
  #api;
  /** @type {Map<string, Reading>} */
  #under = new Map();

  /** @param {import("../shared/api.js").Api} api */
  constructor(api) {
    this.#api = api;
  }

  /** @param {string} id */
  isReading(id) {
    return this.#under.has(id);
  }

  /**
   * Keep an event for a run that is being read.
   * @param {LiveEvent} item
   * @returns {boolean} whether it was kept
   */
  keep(item) {
    const reading = this.#under.get(String(item.run));
    reading?.items.push(item);
    return reading !== undefined;
  }

  /**
   * Read a run; asked for again meanwhile, it is read once more.
   * @param {string} id
   * @returns {Promise<ScanRecord>} to be taken up at once: from now on events are no longer kept here
   */
  read(id) {
    const under = this.#under.get(id);
    if (under !== undefined) {
      under.again = true;
      return under.done;
    }
    /** @type {Reading} */
    const reading = { items: [], again: true, done: Promise.resolve(/** @type {any} */ (null)) };
    this.#under.set(id, reading);
    reading.done = this.#carryOut(id, reading);
    return reading.done;
  }

  /** The stream stands now: what is on its way may have left before. */
  readAgain() {
    for (const reading of this.#under.values()) reading.again = true;
  }

  /**
   * @param {string} id
   * @param {Reading} reading
   */
  async #carryOut(id, reading) {
    try {
      let scan = null;
      while (reading.again) {
        reading.again = false;
        scan = await this.#api.scan(id);
      }
      const record = recordOf(/** @type {import("../shared/types.js").ScanDocument} */ (scan));
      for (const { seq, event } of reading.items) applyEvent(record, seq, event);
      return record;
    } finally {
      this.#under.delete(id);
    }
  }
}
