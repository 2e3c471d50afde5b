// What lies on the desk: the scan in view, the scans laid over it, and the one that runs; and how live events reach them.

import { applyEvent, recordOf } from "./scan_record.js";

/** @typedef {import("./api.js").Api} Api */
/** @typedef {import("./scan_record.js").ScanRecord} ScanRecord */
/** @typedef {import("./types.js").LiveEvent} LiveEvent */

/**
 * @typedef {object} DeskListener
 * @property {() => void} onArranged another scan is in view, running or laid over
 * @property {() => void} onFolded an event changed a scan on the desk
 * @property {(record: ScanRecord, event: import("./types.js").RunEvent) => void} onEvent
 * @property {(record: ScanRecord) => void} onEnded with the record as it is kept
 * @property {(error: unknown) => void} onTrouble
 */

/**
 * @param {Api} api
 * @param {DeskListener} listener
 */
export function createDesk(api, listener) {
  /** @type {ScanRecord | null} */
  let view = null;
  /** @type {ScanRecord | null} */
  let running = null;
  /** @type {ScanRecord[]} */
  let overlays = [];
  /** Whether a scan that starts comes into view by itself: until the person opens a kept one. */
  let following = true;
  /** The scan that this page started and that has not come into view yet. @type {string | null} */
  let wanted = null;
  /** Events of a run whose document is still being fetched. @type {Map<string, LiveEvent[]>} */
  const waiting = new Map();

  /** @param {string} id */
  const fetchRecord = async (id) => recordOf(await api.scan(id));

  /**
   * Fetch a run's document; what happens meanwhile waits, and is folded in after.
   * @param {string} id
   */
  const follow = async (id) => {
    if (waiting.has(id)) return;
    waiting.set(id, []);
    try {
      const record = await fetchRecord(id);
      for (const { seq, event } of waiting.get(id) ?? []) applyEvent(record, seq, event);
      adopt(record);
    } catch (error) {
      listener.onTrouble(error);
    } finally {
      waiting.delete(id);
    }
  };

  /** @param {ScanRecord} record */
  const adopt = (record) => {
    const id = String(record.id);
    running = record.ending === null ? record : running !== null && String(running.id) === id ? null : running;
    const isWanted = wanted === id;
    if (isWanted) wanted = null;
    if (view !== null && String(view.id) === id) view = record;
    else if (isWanted || (following && record.ending === null)) {
      view = record;
      overlays = [];
    }
    listener.onArranged();
    if (record.ending === null) return;
    // A short scan may be over before the page has heard of its beginning.
    if (!record.final) settle(id);
    else if (isWanted) listener.onEnded(record);
  };

  /**
   * The run is over: take what was kept, which is the last word.
   * @param {string} id
   */
  const settle = async (id) => {
    try {
      const record = await fetchRecord(id);
      if (running !== null && String(running.id) === id) running = null;
      if (view !== null && String(view.id) === id) view = record;
      overlays = overlays.map((each) => (String(each.id) === id ? record : each));
      listener.onArranged();
      listener.onEnded(record);
    } catch (error) {
      listener.onTrouble(error);
    }
  };

  return {
    view: () => view,
    running: () => running,
    overlays: () => overlays,
    following: () => following,
    /** @param {LiveEvent} item */
    take({ run, seq, event }) {
      const id = String(run);
      const queue = waiting.get(id);
      if (queue !== undefined) {
        queue.push({ run, seq, event });
        return;
      }
      if (running === null || String(running.id) !== id) {
        if (event.kind !== "RunEnded") follow(id);
        else settle(id);
        return;
      }
      if (!applyEvent(running, seq, event)) return;
      listener.onFolded();
      listener.onEvent(running, event);
      if (event.kind === "RunEnded") settle(id);
    },
    /**
     * Agree with what the service says is running now.
     * @param {string | null} busyRun
     */
    agree(busyRun) {
      const known = running === null ? null : String(running.id);
      if (busyRun !== null && busyRun !== known) follow(busyRun);
      if (known !== null && busyRun !== known) settle(known);
    },
    /** Read everything on the desk again: events may have been missed. */
    async reread() {
      const ids = new Set([view, running].filter((each) => each !== null).map(({ id }) => String(id)));
      await Promise.all([...ids].map(follow));
    },
    /**
     * Bring a scan into view, with others over it.
     * @param {string} id
     * @param {string[]} over
     */
    async open(id, over) {
      const isRunning = running !== null && String(running.id) === id;
      const [record, ...others] = await Promise.all([isRunning && running !== null ? running : fetchRecord(id), ...over.map(fetchRecord)]);
      view = record;
      overlays = others;
      if (record.ending === null) running ??= record;
      following = record.ending === null;
      listener.onArranged();
    },
    /**
     * @param {string} id
     * @param {boolean} on
     */
    async overlay(id, on) {
      overlays = overlays.filter((each) => String(each.id) !== id);
      if (on) overlays = [...overlays, await fetchRecord(id)];
      listener.onArranged();
    },
    /**
     * A scan was started from this page: it comes into view.
     * @param {string} id
     */
    async started(id) {
      following = true;
      wanted = id;
      await follow(id);
    },
    showRunning() {
      if (running === null) return;
      following = true;
      view = running;
      overlays = [];
      listener.onArranged();
    },
  };
}

/** @typedef {ReturnType<typeof createDesk>} Desk */
