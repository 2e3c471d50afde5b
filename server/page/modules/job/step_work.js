// The live part of a step in view: the pane under the hands, the curves, how far the run is, the practice panel. What
// stands around it comes from the service, and says which step this is, what is on and which runs to draw.

import { LivePane } from "../live/pane.js";
import { ProgressLine } from "./progress_line.js";
import { RunFollower } from "./run_follower.js";
import { StepChart } from "./step_chart.js";

/**
 * What the service says of the work.
 * @typedef {object} Work
 * @property {string | number} job
 * @property {string} step
 * @property {boolean} on whether the step is on the bench
 * @property {string | number | null} run the run that is on
 * @property {string | number | null} found the latest run as found
 * @property {string | number | null} left the latest run as left
 * @property {boolean} practice
 * @property {number | null} nominal_khz
 * @property {import("./sweeps.js").Finding[]} as_found
 * @property {import("./sweeps.js").Finding[]} as_left
 */

export class StepWork {
  #context;
  /** @type {Work | null} */
  #work = null;
  #runs;
  #chart = new StepChart();
  #progress = new ProgressLine();
  #practice;
  /** @type {LivePane | null} */
  #live = null;
  #wasLost = false;
  #focusDue = false;
  /** That the job was taken over as the step was begun: it stands for as long as the step is on. */
  #told = "";

  /**
   * @param {import("../page.js").Context} context
   * @param {import("../practice/beside.js").PracticeBeside} practice
   */
  constructor(context, practice) {
    this.#context = context;
    this.#practice = practice;
    this.#runs = new RunFollower(context.api, () => this.#drawRuns());
    document.addEventListener("sent", (event) => this.#sent(event));
  }

  /**
   * A part has come from the service: take up what it says of a step.
   * @param {HTMLElement} body
   */
  drawn(body) {
    const told = body.querySelector("[data-step-work]")?.getAttribute("data-step-work");
    /** @type {Work | null} */
    const next = told ? JSON.parse(told) : null;
    const before = this.#work;
    if (before === null || next === null || before.job !== next.job || before.step !== next.step) this.leave();
    this.#work = next;
    if (next === null) return;
    if (before?.run != null && before.run !== next.run) this.#runs.need(before.run, true);
    if (before?.run !== next.run) this.#live?.settle();
    for (const [run, ended] of /** @type {const} */ ([[next.found, true], [next.left, true], [next.run, false]]))
      if (run !== null) this.#runs.need(run, ended && run !== next.run);
    host("step-chart")?.replaceChildren(this.#chart.element);
    if (next.on) this.#showLive();
    else if (before?.on) this.#ended();
    this.#drawRuns();
  }

  /** What may be done from this page, or what is asked, has changed. */
  situation() {
    if (!this.#work?.on || this.#live === null) return;
    const { connected, watching, known } = this.#context.situation;
    if (!connected && !this.#wasLost) this.#live.lost();
    if (connected && this.#wasLost) this.#live.found();
    this.#wasLost = !connected;
    const session = known?.session;
    if (session && session.step === this.#work.step && String(session.job) === String(this.#work.job)) this.#live.ask(session.asked);
    this.#live.operate(!watching);
    this.#practice.show(known);
  }

  /** @param {import("../shared/types.js").LiveEvent} item */
  take(item) {
    if (!this.#work?.on) return;
    if (item.event.kind !== "Guidance") return this.#runs.take(item);
    this.#live?.show(/** @type {any} */ (item.event));
    this.#practice.point(item.event.adjuster);
  }

  async reread() {
    await this.#runs.reread();
  }

  /** No more keys and no more sound. */
  leave() {
    this.#live?.end();
    this.#live?.element.remove();
    this.#live = null;
    this.#wasLost = false;
  }

  #showLive() {
    if (this.#live === null) {
      const { api, sound } = this.#context;
      this.#live = new LivePane({
        signal: (signal) => api.signal(signal),
        answer: (number, answer) => api.answer(number, answer),
        doForMe: this.#work?.practice ? (number) => api.post("/api/practice/do", { number }) : null,
        sound,
      });
    }
    put("live", this.#live.element);
    put("run-progress", this.#progress.element);
    put("step-told", this.#told);
    this.situation();
    if (!this.#focusDue) return;
    this.#focusDue = false;
    this.#live.focus();
    host("work-panel")?.scrollIntoView({ block: "start" });
  }

  #ended() {
    this.#told = "";
    this.leave();
    this.#context.announce("The step is off the bench.");
  }

  /** Who has just begun the step has the live area under the keys; before it is in sight it takes none. @param {Event} event */
  #sent(event) {
    if (!(event instanceof CustomEvent) || !(event.target instanceof HTMLElement) || event.target.id !== "begin") return;
    this.#focusDue = true;
    if (this.#work?.on) this.#showLive();
    this.#told = event.detail?.told ?? "";
  }

  #drawRuns() {
    const work = this.#work;
    if (work === null) return;
    const of = (/** @type {string | number | null} */ id) => (id === null ? null : this.#runs.get(id));
    this.#progress.show(of(work.run));
    this.#chart.show({
      found: of(work.found),
      left: of(work.left),
      now: of(work.run),
      foundFindings: work.as_found,
      leftFindings: work.as_left,
      nominalKhz: work.nominal_khz,
    });
  }
}

/** @param {string} id */
const host = (id) => document.getElementById(id);

/**
 * @param {string} id
 * @param {HTMLElement | string} content
 */
function put(id, content) {
  const place = host(id);
  if (place !== null && (typeof content === "string" || place.firstChild !== content)) place.replaceChildren(content);
}
