// The work of a step: begin, the phase it is in, what it asks, the live area, stop, leave.

import { LivePane } from "../live/pane.js";
import { PracticeBeside } from "../practice/beside.js";
import { sentence } from "../shared/api.js";
import { make, setText, symbol } from "../shared/dom.js";
import { addressOf } from "../shared/router.js";
import { Slot } from "../shared/slot.js";
import { capital, endingWords } from "../shared/words.js";
import { ProgressLine } from "./progress_line.js";

/** @typedef {import("./types.js").Job} Job */
/** @typedef {import("./types.js").JobStep} JobStep */
/** @typedef {import("../shared/types.js").Session} Session */

/**
 * @typedef {object} WorkActions
 * @property {() => Promise<void>} stop
 * @property {() => Promise<void>} reread
 * @property {() => string | null} way
 */

const PHASES = /** @type {const} */ (["as found", "adjust", "as left"]);

/** The run that is on, from its beginning. */
const AGAIN_WORDS = Object.freeze({ "as found": "Measure again", adjust: "Adjust again", "as left": "Measure again" });

export class WorkPanel {
  element = make("section", { class: "sheet work-panel", "aria-label": "Work" });
  #context;
  #job;
  #step;
  #actions;
  #phases = new Slot(make("ol", { class: "phases", "aria-label": "Phases" }));
  #idle = make("div", { class: "stack" });
  #ending = new Slot(make("div", { class: "ending", role: "status", hidden: true }));
  #warnings = new Slot(make("div", { class: "stack" }));
  #next = new Slot(make("div", { class: "next-step", hidden: true }));
  #turning = turningChoice();
  #begin = make("button", { type: "button", class: "button button--go", "aria-describedby": "begin-state" }, "Begin");
  #beginState = make("p", { id: "begin-state", class: "hint" });
  #error = make("p", { class: "error", role: "alert" });
  /** That the job was taken over as the step was begun: it stands for as long as the step is on. */
  #told = make("p", { class: "hint", role: "status" });
  #leave = make("details", { class: "fold leave" });
  #reason = make("textarea", { id: "leave-reason", rows: 2 });
  #leaveError = make("p", { class: "error", role: "alert" });
  #running = make("div", { class: "stack", hidden: true });
  #progress = new ProgressLine();
  #again = make("button", { type: "button", class: "button" }, AGAIN_WORDS["as found"]);
  #stop = make("button", { type: "button", class: "button button--stop", "aria-keyshortcuts": "Escape" }, "Stop");
  #liveHost = make("div", { class: "live-host" });
  #practice;
  /** The run that guidance belongs to. @type {string | number | null} */
  #run = null;
  /** @type {LivePane | null} */
  #live = null;
  /** @type {string | null} */
  #blocked = null;
  #session = false;
  #wasLost = false;
  #focusDue = false;

  /**
   * @param {import("../page.js").Context} context
   * @param {string} job
   * @param {string} step
   * @param {WorkActions} actions
   */
  constructor(context, job, step, actions) {
    this.#context = context;
    this.#job = job;
    this.#step = step;
    this.#actions = actions;
    this.#practice = new PracticeBeside(context.api);
    this.#begin.addEventListener("click", () => this.#beginStep());
    this.#makeLeave();
    this.#idle.append(
      this.#ending.element,
      this.#next.element,
      this.#warnings.element,
      this.#turning.element,
      this.#begin,
      this.#beginState,
    );
    this.#stop.addEventListener("click", () => actions.stop());
    this.#again.addEventListener("click", () => this.#beginAgain());
    this.#running.append(
      this.#told,
      make("div", { class: "run__line" }, this.#progress.element, make("div", { class: "actions" }, this.#again, this.#stop)),
      make("div", { class: "live-pair" }, this.#liveHost, this.#practice.element),
    );
    this.element.append(this.#phases.element, this.#idle, this.#running, this.#error, this.#leave);
  }

  /**
   * @param {Job} job
   * @param {JobStep} step
   * @param {Session | null} session the session that runs this step
   */
  show(job, step, session) {
    const { situation } = this.#context;
    this.#phases.show(
      [
        step.state.as_found.length,
        step.state.as_left.length,
        step.state.turned.length,
        session?.phase,
        session !== null,
      ],
      () => phaseItems(step, session),
    );
    this.#idle.hidden = session !== null;
    this.#running.hidden = session === null;
    this.#leave.hidden = session !== null;
    if (session === null) this.#showIdle(job, step);
    else this.#showSession(session);
    if (session === null && this.#session) this.#end();
    this.#session = session !== null;
    if (this.#session && this.#focusDue) this.#focusLive();
    this.#live?.operate(!situation.watching);
    this.#practice.show(situation.known);
  }

  /** @param {import("../shared/types.js").RunEvent} event */
  guide(event) {
    this.#pane().show(/** @type {any} */ (event));
    this.#practice.point(event.adjuster);
  }

  /** @param {import("../scan/record.js").ScanRecord | null} run the run that is on */
  progress(run) {
    this.#progress.show(run);
  }

  /** @param {import("../scan/record.js").ScanRecord | null} run the latest run, where it came to no end of its own */
  broken(run) {
    this.#ending.element.hidden = run === null || run.ending === null;
    if (run === null || run.ending === null) return;
    const { symbol: picture, word } = endingWords(run.ending);
    const why = run.endingText === `The run was ${word}.` ? "" : (run.endingText ?? "");
    this.#ending.element.dataset.ending = run.ending;
    this.#ending.show([run.id, run.ending, run.endingText], () => [
      symbol(picture),
      make(
        "p",
        {},
        make("strong", {}, `The last run was ${word}.`),
        ` ${why} What was measured is kept.`,
      ),
    ]);
  }

  /** No more keys and no more sound. */
  leave() {
    this.#live?.end();
    this.#live?.element.remove();
    this.#live = null;
  }

  /**
   * @param {Job} job
   * @param {JobStep} step
   */
  #showIdle(job, step) {
    const next = step.state.ending === null || step.state.on ? undefined : job.steps.find(({ id }) => id === job.next_step);
    const goesOn = next !== undefined && next.id !== step.id;
    this.#next.element.hidden = !goesOn;
    this.#next.show(goesOn ? [next.id] : [], () => (goesOn ? [goOn(job, next)] : []));
    this.#begin.classList.toggle("button--go", !goesOn);
    this.#blocked = reasonNotToBegin(job, step, this.#context.situation.refusal("to begin"));
    this.#begin.setAttribute("aria-disabled", String(this.#blocked !== null));
    setText(
      this.#begin,
      step.state.on ? "Go on with this step" : step.state.ending === null ? "Begin" : "Do this step again",
    );
    setText(this.#beginState, this.#blocked ?? "");
    this.#turning.element.hidden = step.adjusters.every(({ measure_only: only }) => only);
    this.#warnings.show(step.state.warnings, () =>
      step.state.warnings.map((text) => make("p", { class: "warning" }, symbol("caution"), make("span", {}, text))),
    );
  }

  /** @param {Session} session */
  #showSession(session) {
    const live = this.#pane();
    const { connected } = this.#context.situation;
    if (!connected && !this.#wasLost) live.lost();
    if (connected && this.#wasLost) live.found();
    this.#wasLost = !connected;
    live.ask(session.asked);
    const { watching } = this.#context.situation;
    // Only what is on the bench can begin again; between two runs the page asks what comes next.
    this.#again.hidden = session.run === null || watching;
    // Who watches has the output's switch, which ends the step too.
    this.#stop.hidden = watching;
    setText(this.#again, AGAIN_WORDS[session.phase ?? "as found"]);
    if (session.run !== this.#run) live.settle();
    this.#run = session.run;
    setText(this.#error, "");
  }

  /** The person who has just begun the step has the live area under the keys; before it is in sight it takes none. */
  #focusLive() {
    this.#focusDue = false;
    this.#pane().focus();
  }

  #end() {
    this.leave();
    this.#wasLost = false;
    this.#context.announce("The step is off the bench.");
    this.#actions.reread();
  }

  #pane() {
    if (this.#live !== null) return this.#live;
    const { api, situation } = this.#context;
    const practice = situation.known?.mode === "practice";
    this.#live = new LivePane({
      signal: (signal) => api.signal(signal),
      answer: (number, answer) => api.answer(number, answer),
      doForMe: practice ? (number) => api.post("/api/practice/do", { number }) : null,
      sound: this.#context.sound,
    });
    this.#liveHost.replaceChildren(this.#live.element);
    this.#live.operate(!situation.watching);
    return this.#live;
  }

  async #beginStep() {
    setText(this.#error, "");
    if (this.#blocked !== null) return;
    try {
      const { told } = await this.#context.api.beginStep(this.#job, this.#step, {
        way: this.#actions.way(),
        turning: this.#turning.value,
      });
      this.#context.announce("The step is begun.");
      setText(this.#told, told ?? "");
      this.#focusDue = true;
      if (this.#session) this.#focusLive();
      this.element.scrollIntoView({ block: "start" });
    } catch (error) {
      setText(this.#error, sentence(error));
    }
  }

  async #beginAgain() {
    setText(this.#error, "");
    try {
      await this.#context.api.again();
      this.#context.announce("It begins again.");
    } catch (error) {
      setText(this.#error, sentence(error));
    }
  }

  #makeLeave() {
    const form = make(
      "form",
      { class: "stack" },
      make("div", { class: "field" }, make("label", { for: "leave-reason" }, "Why it is left as it is"), this.#reason),
      make("button", { type: "submit", class: "button" }, "Leave the step"),
      this.#leaveError,
    );
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const reason = this.#reason.value.trim();
      setText(this.#leaveError, reason === "" ? "Say why first: the record is to tell it in ten years." : "");
      if (reason === "") return this.#reason.focus();
      try {
        await this.#context.api.leaveStep(this.#job, this.#step, reason);
        this.#reason.value = "";
        this.#leave.open = false;
        this.#context.announce("The step is left.");
        await this.#actions.reread();
      } catch (error) {
        setText(this.#leaveError, sentence(error));
      }
    });
    this.#leave.append(make("summary", {}, "Leave this step as it is"), form);
  }
}

/**
 * @param {Job} job
 * @param {JobStep} step
 * @param {string | null} refused what the bench has against it
 * @returns {string | null}
 */
function reasonNotToBegin(job, step, refused) {
  if (refused !== null) return refused;
  if (job.state === "done") return "The job is done; take it up again first.";
  return step.state.refused[0] ?? null;
}

/**
 * @param {JobStep} step
 * @param {Session | null} session
 */
function phaseItems({ state, adjusters }, session) {
  const reached = [state.as_found.length > 0, state.turned.length > 0, state.as_left.length > 0];
  const phases = adjusters.every(({ measure_only: only }) => only)
    ? PHASES.filter((phase) => phase === "as found")
    : PHASES;
  return phases.map((phase) => {
    const now = session?.phase === phase;
    const done = reached[PHASES.indexOf(phase)] ?? false;
    const word = now ? "now" : done ? "done" : "to come";
    return make(
      "li",
      { class: "phase", "data-state": word, "aria-current": now && "step" },
      symbol(now ? "running" : done ? "done" : "open"),
      make("span", { class: "phase__name" }, capital(phase)),
      make("span", { class: "phase__word" }, word),
    );
  });
}

/** How the adjusters are turned: guided while turning, or by counted turns. */
function turningChoice() {
  const radio = (/** @type {string} */ value, /** @type {string} */ text, /** @type {boolean} */ checked) => {
    const input = make("input", { type: "radio", name: "turning", value, checked });
    return { input, element: make("label", {}, input, make("span", {}, text)) };
  };
  const live = radio("live", "Guided while turning", true);
  const counted = radio("counted", "By counted turns", false);
  return {
    element: make(
      "div",
      { class: "choice choice--wrap", role: "radiogroup", "aria-label": "How adjusters are turned" },
      live.element,
      counted.element,
    ),
    /** @returns {"live" | "counted"} */
    get value() {
      return live.input.checked ? "live" : "counted";
    },
  };
}

/**
 * The way on, once this step has ended: it is what a person wants next, far more often than the same step again.
 * @param {Job} job
 * @param {JobStep} next
 */
function goOn(job, next) {
  return make("a", { class: "button button--go", href: addressOf(["jobs", job.id, next.id]) }, `Go on: ${next.title}`);
}
