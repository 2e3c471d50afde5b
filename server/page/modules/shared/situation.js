// How things stand between this page, the service and the other pages; what is said about it, and what it forbids.

/** @typedef {import("./types.js").Bench} Bench */

/**
 * @typedef {object} Parts
 * @property {ReturnType<typeof import("../bench/strip.js").createBenchStrip>} strip
 * @property {ReturnType<typeof import("./banners.js").createBanners>} banners
 * @property {import("../scan/form.js").ScanForm} form
 * @property {import("../scan/desk.js").Desk} desk
 * @property {() => void} takeOver
 * @property {() => void} lookAgain
 * @property {import("./announce.js").Announce} announce
 */

export class Situation {
  #parts;
  /** @type {Bench | null} */
  #bench = null;
  #connected = false;
  #everConnected = false;
  #displaced = false;
  #quarters = 0;

  /** @param {Parts} parts */
  constructor(parts) {
    this.#parts = parts;
  }

  /** Whether this page operates the bench. */
  get operating() {
    return this.#bench?.operator.you ?? false;
  }

  refresh() {
    this.#parts.form.block(reasonNotToScan(this.#connected, this.#bench, this.#parts));
  }

  /** @param {Bench} next */
  bench(next) {
    this.#displaced = !next.operator.you && (this.#displaced || this.operating);
    this.#bench = next;
    this.#parts.strip.show(next);
    showOperator(next, this.#displaced, this.#parts);
    showTrouble(next, this.#parts);
    this.refresh();
  }

  lost() {
    if (!this.#connected && this.#everConnected) return;
    this.#connected = false;
    const { strip, banners, desk } = this.#parts;
    strip.lose();
    const text = lostText(this.#everConnected, this.operating, desk.running);
    banners.show("connection", { symbol: "cross", tone: "grave", text });
    this.refresh();
  }

  /** @returns {boolean} whether the service had been lost before */
  found() {
    const again = this.#everConnected;
    if (again && !this.#connected) this.#parts.announce("The service answers again.");
    this.#connected = this.#everConnected = true;
    this.#parts.banners.clear("connection");
    this.refresh();
    return again;
  }

  /**
   * Tell a screen reader each quarter of a run, not each reading.
   * @param {string | number} id
   * @param {number} done
   */
  progress(id, done) {
    const now = Math.floor(done * 4);
    if (now > this.#quarters && now < 4) this.#parts.announce(`Scan ${id}: ${now * 25} percent done.`);
    this.#quarters = now;
  }
}

/**
 * @param {boolean} connected
 * @param {Bench | null} bench
 * @param {Parts} parts
 * @returns {string | null}
 */
function reasonNotToScan(connected, bench, { desk, form }) {
  if (!connected || bench === null) return "The service does not answer.";
  if (bench.operator.present && !bench.operator.you) return "Another page operates the bench; take over to scan from here.";
  if (bench.busy_run !== null || desk.running !== null) return "A scan is running.";
  return form.targets.chosen === null ? "There is nothing to scan yet: no receiver is known." : null;
}

/**
 * @param {Bench} bench
 * @param {boolean} displaced whether this page operated before another took over
 * @param {Parts} parts
 */
function showOperator(bench, displaced, { banners, takeOver }) {
  if (!bench.operator.present || bench.operator.you) {
    banners.clear("operator");
    return;
  }
  const text = displaced
    ? "Another page has taken over the bench. You are watching now."
    : "You are watching. Another page operates the bench.";
  banners.show("operator", { symbol: "watch", tone: "calm", text, button: { label: "Take over", act: takeOver } });
}

/**
 * @param {Bench} bench
 * @param {Parts} parts
 */
function showTrouble(bench, { banners, lookAgain }) {
  const absent = bench.instruments.some(({ state }) => state !== "ready");
  if (bench.last_error === null && !absent) {
    banners.clear("bench");
    return;
  }
  const text = bench.last_error ?? absentText(bench);
  const button = absent && bench.busy_run === null ? { label: "Look again", act: lookAgain } : undefined;
  banners.show("bench", { symbol: "caution", tone: bench.last_error === null ? "calm" : "grave", text, button });
}

/** @param {Bench} bench */
function absentText({ instruments }) {
  const absent = instruments.filter(({ state }) => state !== "ready");
  return absent.map(({ role, state, detail }) => `The ${role} is ${state}${detail ? `: ${detail}` : ""}.`).join(" ");
}

/**
 * @param {boolean} everConnected
 * @param {boolean} operating
 * @param {import("../scan/record.js").ScanRecord | null} running
 */
function lostText(everConnected, operating, running) {
  if (!everConnected) return "The service does not answer. This page keeps trying.";
  if (running === null) {
    return "The service is out of reach. The figures on this page are kept; it goes on by itself when the service answers.";
  }
  const mine = operating ? " If it stays so for ten seconds, the service stops the scan and switches the output off." : "";
  return `The service is out of reach after reading ${running.readings.size}. What was read until then is kept.${mine} This page goes on by itself when the service answers.`;
}
