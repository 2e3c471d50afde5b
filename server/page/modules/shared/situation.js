// How things stand between this page, the service and the other pages; what is said about it, and what it forbids.

/** @typedef {import("./types.js").Bench} Bench */

/**
 * @typedef {object} Parts
 * @property {ReturnType<typeof import("../bench/strip.js").createBenchStrip>} strip
 * @property {ReturnType<typeof import("./banners.js").createBanners>} banners
 * @property {() => void} takeOver
 * @property {() => void} lookAgain
 * @property {() => void} onChange
 * @property {() => string | null} work how far the work on the bench has come, as part of a sentence; null where none is on
 * @property {import("./announce.js").Announce} announce
 */

export class Situation {
  #parts;
  /** @type {Bench | null} */
  #bench = null;
  #connected = false;
  #everConnected = false;
  #displaced = false;

  /** @param {Parts} parts */
  constructor(parts) {
    this.#parts = parts;
  }

  /** Whether this page operates the bench. */
  get operating() {
    return this.#bench?.operator.you ?? false;
  }

  /** Whether another page operates it. */
  get watching() {
    return (this.#bench?.operator.present ?? false) && !this.operating;
  }

  get connected() {
    return this.#connected;
  }

  /** What is known of the bench; it may be old where the service does not answer. */
  get known() {
    return this.#bench;
  }

  /**
   * Why nothing new can be begun from this page, or null where it can.
   * @param {string} purpose what it would be begun for: "to scan"
   * @returns {string | null}
   */
  refusal(purpose) {
    if (!this.#connected || this.#bench === null) return "The service does not answer.";
    if (this.watching) return `Another page operates the bench; take over ${purpose} from here.`;
    if (this.#bench.session) return `A step is on the bench: ${this.#bench.session.title}.`;
    return this.#bench.busy_run === null ? null : "A scan is running.";
  }

  /** @param {Bench} next */
  bench(next) {
    this.#displaced = !next.operator.you && (this.#displaced || this.operating);
    this.#bench = next;
    this.#parts.strip.show(next);
    showOperator(next, this.#displaced, this.#parts);
    showTrouble(next, this.#parts);
    this.#parts.onChange();
  }

  lost() {
    if (!this.#connected && this.#everConnected) return;
    this.#connected = false;
    const { strip, banners, work } = this.#parts;
    strip.lose();
    const text = lostText(this.#everConnected, this.operating, work());
    banners.show("connection", { symbol: "cross", tone: "grave", text });
    this.#parts.onChange();
  }

  /** @returns {boolean} whether the service had been lost before */
  found() {
    const again = this.#everConnected;
    if (again && !this.#connected) this.#parts.announce("The service answers again.");
    this.#connected = this.#everConnected = true;
    this.#parts.banners.clear("connection");
    this.#parts.onChange();
    return again;
  }
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
 * @param {string | null} work
 */
function lostText(everConnected, operating, work) {
  if (!everConnected) return "The service does not answer. This page keeps trying.";
  if (work === null) {
    return "The service is out of reach. The figures on this page are kept; it goes on by itself when the service answers.";
  }
  const mine = operating ? " If it stays so for ten seconds, the service stops and switches the output off." : "";
  return `The service is out of reach ${work}. What was read until then is kept.${mine} This page goes on by itself when the service answers.`;
}
