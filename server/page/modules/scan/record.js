// One scan as the page holds it: folded from the kept document, then from each event that follows.

/** @typedef {import("../shared/types.js").Reading} Reading */
/** @typedef {import("../shared/types.js").RunEvent} RunEvent */
/** @typedef {import("../shared/types.js").Result} Result */
/** @typedef {import("../shared/types.js").ScanDocument} ScanDocument */

/**
 * A whole sweep within a run: its figures, and the readings it rests on.
 * @typedef {{result: Result, first: number, last: number}} Sweep
 */

/**
 * @typedef {object} ScanRecord
 * @property {string | number} id
 * @property {string} startedUtc
 * @property {string} target
 * @property {string} targetName
 * @property {string} receiver
 * @property {import("../shared/types.js").ScanSettings} settings
 * @property {import("../shared/types.js").Instrument[]} instruments
 * @property {Map<number, Reading>} readings by index, in the order they were taken
 * @property {Result | null} result final, or the fit so far
 * @property {boolean} final whether `result` is the last word
 * @property {{done: number, remaining_s: number | null, text: string} | null} progress
 * @property {string[]} notices
 * @property {import("../shared/types.js").Ending | null} ending null while it runs
 * @property {string | null} endingText
 * @property {Sweep[]} sweeps the whole sweeps of a step's run, in the order they were taken
 * @property {boolean} ofJob whether it is part of a job, and no scan by itself
 * @property {number} seq the last event folded in
 */

/**
 * @param {ScanDocument} scan
 * @returns {ScanRecord}
 */
export function recordOf(scan) {
  return {
    id: scan.id,
    startedUtc: scan.started_utc,
    target: scan.target,
    targetName: scan.target_name,
    receiver: scan.receiver,
    settings: scan.settings,
    instruments: scan.instruments ?? [],
    readings: new Map(scan.readings.map((reading) => [reading.index, reading])),
    result: scan.result,
    final: scan.ending !== null,
    progress: null,
    notices: [...(scan.notices ?? [])],
    ending: scan.ending,
    endingText: scan.ending_text,
    sweeps: (scan.curves ?? []).map((curve) => ({ result: curve.figures, first: curve.first_index, last: curve.last_index })),
    ofJob: (scan.job_id ?? null) !== null,
    seq: -1,
  };
}

/**
 * Fold one event in. An event seen before changes nothing, so that a replay after a break is harmless.
 * @param {ScanRecord} record
 * @param {number} seq
 * @param {RunEvent} event
 * @returns {boolean} whether anything changed
 */
export function applyEvent(record, seq, event) {
  if (seq <= record.seq) return false;
  record.seq = seq;
  const fold = FOLDS[event.kind];
  fold?.(record, event);
  return fold !== undefined;
}

/** @type {Record<string, (record: ScanRecord, event: RunEvent) => void>} */
const FOLDS = {
  ReadingTaken(record, event) {
    if (event.role !== "meter") return;
    const known = record.readings.get(event.index);
    record.readings.set(event.index, {
      index: event.index,
      time_s: event.time_s,
      frequency_hz: event.frequency_hz,
      power_dbm: event.power_dbm,
      value_v: event.value,
      mark: event.mark,
      purpose: event.purpose,
      level_db: known?.level_db ?? null,
      used: known?.used ?? false,
    });
  },
  LevelTaken(record, event) {
    const reading = record.readings.get(event.reading_index);
    if (reading === undefined) return;
    reading.level_db = event.level_db;
    reading.used = event.used;
  },
  PartialFit(record, event) {
    if (!record.final) record.result = event.figures;
  },
  CurveFitted(record, event) {
    const last = Math.max(...record.readings.keys());
    const first = (record.sweeps.at(-1)?.last ?? -1) + 1;
    if (first <= last) record.sweeps.push({ result: event.figures, first, last });
  },
  Progress(record, event) {
    record.progress = { done: event.done, remaining_s: event.remaining_s, text: event.text };
  },
  Notice(record, event) {
    if (record.notices.at(-1) !== event.text) record.notices.push(event.text);
  },
  RunEnded(record, event) {
    record.ending = event.ending;
    record.endingText = event.text;
    record.progress = null;
  },
};

/**
 * The readings that have a place on the chart.
 * @param {ScanRecord} record
 * @returns {Reading[]}
 */
export function plottedReadings(record) {
  return placed(record).filter((reading) => !isRough(reading));
}

/**
 * The rough levels of a calibration's look over the sweep. They stand on another scale than the levels that follow, and
 * so have a place on the chart only until those come.
 * @param {ScanRecord} record
 * @returns {Reading[]}
 */
export function roughReadings(record) {
  const all = placed(record);
  return all.every(isRough) ? all : [];
}

/**
 * The readings that should have given a level and did not, or whose level was set aside. The latest of a running scan
 * is not among them: its level is still to come.
 * @param {ScanRecord} record
 * @returns {Reading[]}
 */
export function unusedReadings(record) {
  const all = [...record.readings.values()];
  const judged = record.ending === null ? all.slice(0, -1) : all;
  return judged.filter(({ purpose, mark, used }) => !used && (purpose === "scan" || mark !== "good"));
}

/** @param {ScanRecord} record */
const placed = (record) =>
  [...record.readings.values()].filter(({ level_db: level, frequency_hz: hz }) => level !== null && hz !== null);

/** @param {Reading} reading */
const isRough = ({ purpose, used }) => purpose !== "scan" && !used;
