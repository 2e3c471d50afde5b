// One step of a job: its hookup with the cautions first, the work on the bench, its curve, and what it came to.

import { fill, make, setText, symbol } from "../shared/dom.js";
import { addressOf } from "../shared/router.js";
import { Slot } from "../shared/slot.js";
import { kindText } from "./kind.js";
import { HookupPanel } from "./hookup_panel.js";
import { NotesPanel } from "./notes_panel.js";
import { ResultPanel } from "./result_panel.js";
import { RunFollower } from "./run_follower.js";
import { RunsFold } from "./runs_fold.js";
import { standingOf } from "./standing.js";
import { StepChart } from "./step_chart.js";
import { trail } from "./trail.js";
import { WorkPanel } from "./work_panel.js";

/** @typedef {import("./types.js").Job} Job */
/** @typedef {import("./types.js").JobStep} JobStep */
/** @typedef {import("../shared/types.js").Session} Session */

/**
 * @typedef {object} StepActions
 * @property {() => Promise<void>} stop
 * @property {() => Promise<void>} reread read the job again
 */

export class StepView {
  element = make("div", { class: "step" });
  #context;
  /** @type {Job | null} */
  #job = null;
  #trail = new Slot(make("div", {}));
  #head = new Slot(make("header", { class: "step-head" }));
  #state = make("p", { class: "hint", role: "status" }, "Asking for the step.");
  #columns = make("div", { class: "step-columns", hidden: true });
  #hookup = new HookupPanel(() => this.refresh());
  #work;
  #runs;
  #chart;
  #result = new ResultPanel();
  #files = new RunsFold();
  #notes;
  /** @type {string | null} */
  #runOn = null;

  /**
   * @param {import("../page.js").Context} context
   * @param {string} id of the job
   * @param {string} stepId
   * @param {StepActions} actions
   */
  constructor(context, id, stepId, actions) {
    this.#context = context;
    this.id = id;
    this.stepId = stepId;
    this.#work = new WorkPanel(context, id, stepId, { ...actions, way: () => this.#hookup.way });
    this.#runs = new RunFollower(context.api, () => this.#drawRuns());
    this.#chart = new StepChart();
    this.#notes = new NotesPanel(context, id, stepId);
    this.#columns.append(
      make("div", { class: "step-columns__side" }, this.#hookup.element),
      make(
        "div",
        { class: "step-columns__main stack stack--wide" },
        this.#work.element,
        this.#chart.element,
        this.#result.element,
        this.#files.element,
        this.#notes.element,
      ),
    );
    this.element.append(this.#trail.element, this.#head.element, this.#state, this.#columns);
  }

  get title() {
    const step = this.#step;
    return step === null || this.#job === null ? "Step" : `${step.title}, ${this.#job.receiver_name}`;
  }

  /** @param {Job} job */
  show(job) {
    this.#job = job;
    const plan = () => make("a", { href: addressOf(["jobs", job.id]) }, "its plan");
    if (this.#step === null) fill(this.#state, `This job has no step “${this.stepId}”; see `, plan(), ".");
    else setText(this.#state, "");
    for (const run of [...this.#shownRuns(), this.#brokenRun()])
      if (run !== null) this.#runs.need(run.id, run.ending !== null);
    this.refresh();
  }

  /** @param {string} text */
  fail(text) {
    setText(this.#state, this.#job === null ? text : `What is shown is not up to date. ${text}`);
  }

  refresh() {
    const job = this.#job;
    const step = this.#step;
    if (job === null || step === null) return;
    const session = this.#session;
    const onBench = session !== null;
    this.#columns.hidden = false;
    this.#columns.dataset.running = String(onBench);
    this.#followSession(session);
    this.#trail.show([job.receiver_name, step.title], () => [
      trail([
        ["Jobs", "#/jobs"],
        [`${job.receiver_name}, job ${job.id}`, addressOf(["jobs", job.id])],
        [step.title, null],
      ]),
    ]);
    const index = job.steps.indexOf(step);
    const standing = standingOf(step, step.id === job.next_step, onBench);
    this.#head.show([step.title, step.kind, index, standing, job.steps.length], () =>
      headParts(job, step, index, standing),
    );
    this.#hookup.show(step, session === null ? null : (session.way ?? this.#hookup.way));
    this.#work.show(job, step, session);
    this.#result.show(step);
    this.#files.show(step.state.runs);
    this.#notes.show(step.state.remarks, step.state.photos);
    this.#drawRuns();
  }

  /** @param {import("../shared/types.js").LiveEvent} item */
  take(item) {
    if (this.#session === null) return;
    if (item.event.kind === "Guidance") this.#work.guide(item.event);
    else this.#runs.take(item);
  }

  async reread() {
    await this.#runs.reread();
  }

  /** Another page is in view: no more keys, no more sound. */
  leave() {
    this.#work.leave();
  }

  /** @returns {JobStep | null} */
  get #step() {
    return this.#job?.steps.find(({ id }) => id === this.stepId) ?? null;
  }

  /** What runs on the bench now, where it is this step. @returns {Session | null} */
  get #session() {
    const session = this.#context.situation.known?.session ?? null;
    return session !== null && String(session.job) === this.id && session.step === this.stepId ? session : null;
  }

  /** @param {Session | null} session */
  #followSession(session) {
    const run = session?.run ?? null;
    const next = run === null ? null : String(run);
    if (next === this.#runOn) return;
    // The run before is over: what was kept of it is the last word.
    if (this.#runOn !== null) this.#runs.need(this.#runOn, true);
    this.#runOn = next;
    if (next !== null) this.#runs.need(next);
  }

  /** The latest run of each phase, as found first. */
  #shownRuns() {
    const runs = this.#step?.state.runs ?? [];
    const latest = (/** @type {string} */ phase) => runs.filter((run) => run.phase === phase).at(-1);
    return [latest("as found"), latest("as left")].filter((run) => run !== undefined);
  }

  /** The latest run, where it came to no end of its own. */
  #brokenRun() {
    const run = this.#step?.state.runs.at(-1);
    return run === undefined || run.ending === null || run.ending === "completed" ? null : run;
  }

  #drawRuns() {
    const [found, left] = ["as found", "as left"].map((phase) =>
      this.#runs.get(this.#shownRuns().find((run) => run.phase === phase)?.id),
    );
    const now = this.#runOn === null ? null : this.#runs.get(this.#runOn);
    this.#work.progress(now);
    this.#work.broken(this.#runs.get(this.#brokenRun()?.id));
    const step = this.#step;
    this.#chart.show({
      found: found ?? null,
      left: left ?? null,
      now,
      foundFindings: step?.state.as_found ?? [],
      leftFindings: step?.state.as_left ?? [],
      nominalKhz: step?.nominal_khz ?? null,
    });
  }
}

/**
 * @param {Job} job
 * @param {JobStep} step
 * @param {number} index
 * @param {import("./standing.js").Standing} standing
 */
function headParts(job, step, index, standing) {
  const link = (/** @type {JobStep | undefined} */ to, /** @type {string} */ text) =>
    to &&
    make(
      "a",
      {
        class: "button button--small",
        href: addressOf(["jobs", job.id, to.id]),
        "aria-label": `${text} step: ${to.title}`,
      },
      text,
    );
  return [
    make(
      "div",
      {},
      make("p", { class: "step-head__kind" }, [`Step ${index + 1} of ${job.steps.length}`, kindText(step)].filter(Boolean).join(" · ")),
      make("h1", { tabindex: -1 }, step.title),
    ),
    make(
      "p",
      { class: "stand stand--large", "data-tone": standing.tone },
      symbol(standing.symbol),
      make("span", {}, standing.word),
    ),
    make(
      "div",
      { class: "actions step-head__ways" },
      link(job.steps[index - 1], "Previous"),
      link(job.steps[index + 1], "Next"),
    ),
  ];
}
