// The runs of a step as the page holds them: read from the record, and the one that is on followed event by event.

import { applyEvent } from "../scan/record.js";
import { RunReader } from "../scan/run_reader.js";

/** @typedef {import("../scan/record.js").ScanRecord} ScanRecord */
/** @typedef {import("../shared/types.js").LiveEvent} LiveEvent */

export class RunFollower {
  /** @type {Map<string, ScanRecord>} */
  #records = new Map();
  #reader;
  #onChange;

  /**
   * @param {import("../shared/api.js").Api} api
   * @param {() => void} onChange
   */
  constructor(api, onChange) {
    this.#reader = new RunReader(api);
    this.#onChange = onChange;
  }

  /**
   * @param {string | number | null | undefined} id
   * @returns {ScanRecord | null}
   */
  get(id) {
    return this.#records.get(String(id)) ?? null;
  }

  /** @param {LiveEvent} item */
  take(item) {
    const id = String(item.run);
    const record = this.#records.get(id);
    if (this.#reader.keep(item)) return;
    if (record === undefined) this.need(id);
    else if (applyEvent(record, item.seq, item.event)) this.#onChange();
  }

  /**
   * See that this run is held; one that was still on when it was read is read again once it has ended.
   * @param {string | number} run
   * @param {boolean} [ended] whether it is known to have ended
   */
  async need(run, ended = false) {
    const id = String(run);
    const record = this.#records.get(id);
    if (this.#reader.isReading(id) || (record !== undefined && (record.final || !ended))) return;
    await this.#read(id);
  }

  /** Read again what was still on: some of it may have been missed. */
  async reread() {
    this.#reader.readAgain();
    await Promise.all([...this.#records].filter(([, { final }]) => !final).map(([id]) => this.#read(id)));
  }

  /** @param {string} id */
  async #read(id) {
    try {
      this.#records.set(id, await this.#reader.read(id));
      this.#onChange();
    } catch {
      // Its chart stays away; the step's own figures do not depend on it, and the next need of it asks again.
    }
  }
}
