// One job: whose set it is, how far it has come, and the plan with each step's figures at a glance.

import { jobAddress, sentence } from "../shared/api.js";
import { make, setText, symbol } from "../shared/dom.js";
import { addressOf } from "../shared/router.js";
import { Slot } from "../shared/slot.js";
import { trimmed } from "../shared/units.js";
import { counted, moment } from "../shared/words.js";
import { DetailsFields } from "./details_form.js";
import { limitKey } from "./figures.js";
import { NotesPanel } from "./notes_panel.js";
import { planRows } from "./plan_list.js";
import { standingOf } from "./standing.js";
import { trail } from "./trail.js";

/** @typedef {import("./types.js").Job} Job */
/** @typedef {import("./types.js").JobFields} JobFields */

export class JobView {
  element = make("div", { class: "stack stack--wide" });
  #context;
  /** @type {Job | null} */
  #job = null;
  #trail = new Slot(make("div", {}));
  #head = new Slot(make("header", { class: "job-head" }));
  #state = make("p", { class: "hint", role: "status" }, "Asking for the job.");
  #progress = new Slot(make("section", { class: "sheet progress", "aria-label": "Progress" }));
  #plan = new Slot(make("section", { class: "sheet plan", "aria-labelledby": "plan-title" }));
  #facts = new Slot(make("section", { class: "sheet", "aria-labelledby": "details-title" }));
  #notes;
  #dialog;
  #fields = new DetailsFields("job");
  #error = make("p", { class: "error", role: "alert" });

  /**
   * @param {import("../page.js").Context} context
   * @param {string} id
   */
  constructor(context, id) {
    this.#context = context;
    this.id = id;
    this.#notes = new NotesPanel(context, id, null);
    this.#dialog = this.#makeDialog();
    this.#progress.element.hidden = this.#plan.element.hidden = this.#facts.element.hidden = true;
    this.element.append(
      this.#trail.element,
      this.#head.element,
      this.#state,
      make(
        "div",
        { class: "job-columns" },
        make("div", { class: "stack stack--wide" }, this.#progress.element, this.#plan.element),
        make("div", { class: "stack stack--wide" }, this.#facts.element, this.#notes.element),
      ),
      this.#dialog,
    );
  }

  get title() {
    return this.#job === null ? "Job" : `${this.#job.receiver_name}, job ${this.id}`;
  }

  /** @param {Job} job */
  show(job) {
    this.#job = job;
    setText(this.#state, "");
    this.refresh();
  }

  /** @param {string} text */
  fail(text) {
    setText(this.#state, this.#job === null ? text : `What is shown is not up to date. ${text}`);
  }

  refresh() {
    const job = this.#job;
    if (job === null) return;
    const session = this.#context.situation.known?.session ?? null;
    const onBench = session !== null && String(session.job) === this.id ? session.step : null;
    this.#progress.element.hidden = this.#plan.element.hidden = this.#facts.element.hidden = false;
    this.#trail.show(null, () => [
      trail([
        ["Jobs", "#/jobs"],
        [this.title, null],
      ]),
    ]);
    this.#head.show(
      [job.receiver_name, job.make, job.serial, job.owner, job.state, job.started_utc, job.ended_utc],
      () => this.#headParts(job),
    );
    const { steps, next_step: next } = job;
    this.#progress.show([steps.map(({ state }) => state), next, onBench, job.state], () =>
      this.#progressParts(job, onBench),
    );
    this.#plan.show([steps, next, onBench], () => [
      make("div", { class: "plan__head" }, make("h2", { id: "plan-title" }, "Plan"), limitKey()),
      planRows(job, onBench),
    ]);
    this.#facts.show({ ...job, steps: null, remarks: null, photos: null }, () => this.#factsParts(job));
    this.#notes.show(job.remarks ?? [], job.photos ?? []);
  }

  /** @param {Job} job */
  #headParts(job) {
    const set = [job.make, job.serial && `serial ${job.serial}`, job.owner && `for ${job.owner}`]
      .filter(Boolean)
      .join(" · ");
    const file = (/** @type {string} */ name, /** @type {string} */ text) =>
      make(
        "a",
        {
          class: "button button--small",
          href: `${jobAddress(job.id)}/${name}`,
          ...(name.endsWith(".html") ? {} : { download: true }),
        },
        text,
      );
    return [
      make(
        "div",
        {},
        make("h1", {}, job.receiver_name),
        make("p", { class: "job-head__set" }, set || "make, serial and owner not given"),
        make(
          "p",
          { class: "hint" },
          `job ${job.id} · begun ${moment(job.started_utc)}${job.ended_utc ? ` · done ${moment(job.ended_utc)}` : ""}`,
        ),
      ),
      make(
        "div",
        { class: "actions", role: "group", "aria-label": "Files of this job" },
        file("report.html", "Report"),
        file("report.pdf", "PDF"),
        file("job.zip", "Job file"),
      ),
    ];
  }

  /**
   * @param {Job} job
   * @param {string | null} onBench
   */
  #progressParts(job, onBench) {
    const done = job.steps.filter(({ state }) => state.ending !== null && state.undone_by.length === 0).length;
    const next = job.steps.find(({ id }) => id === (onBench ?? job.next_step));
    return [
      make(
        "p",
        { class: "progress__count" },
        make("strong", {}, `${done} of ${counted(job.steps.length, "step")} done`),
        ...tallies(job, onBench),
      ),
      stepStrip(job, onBench),
      make(
        "div",
        { class: "actions" },
        next && goOn(job, next, onBench),
        ...this.#stateButtons(job, next !== undefined),
      ),
    ];
  }

  /**
   * @param {Job} job
   * @param {boolean} hasNext
   */
  #stateButtons(job, hasNext) {
    const button = (
      /** @type {"open" | "paused" | "done"} */ state,
      /** @type {string} */ label,
      /** @type {string} */ kind,
    ) => {
      const onclick = () => this.#change({ state }, `The job is ${state}.`);
      return make("button", { type: "button", class: `button ${kind}`, "data-control": state, onclick }, label);
    };
    if (job.state !== "open") return [button("open", "Take it up again", "")];
    const pause = button("paused", "Pause the job", "");
    if (hasNext) return [pause, button("done", "End the job here", "")];
    return [button("done", "The job is done", "button--primary"), pause];
  }

  /** @param {Job} job */
  #factsParts(job) {
    return [
      make(
        "div",
        { class: "sheet__head" },
        make("h2", { id: "details-title" }, "Details"),
        make(
          "button",
          { type: "button", class: "button button--small", "data-control": "change", onclick: () => this.#edit() },
          "Change",
        ),
      ),
      make(
        "dl",
        { class: "facts" },
        ...details(job).map(([name, text]) => make("div", {}, make("dt", {}, name), make("dd", {}, text))),
      ),
      job.serial &&
        make(
          "p",
          { class: "sheet__more" },
          make(
            "a",
            { href: addressOf(["records", "history"], { receiver: job.receiver_id, serial: job.serial }) },
            "History of this set",
          ),
        ),
    ];
  }

  #makeDialog() {
    const close = make("button", { type: "button", class: "button", onclick: () => this.#dialog.close() }, "Close");
    const form = make(
      "form",
      { novalidate: true },
      make("h2", { id: "job-dialog-title" }, "Details of the job"),
      this.#fields.element,
      make(
        "div",
        { class: "form__foot" },
        make("button", { type: "submit", class: "button button--primary" }, "Keep"),
        close,
        this.#error,
      ),
    );
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const fields = this.#fields.read();
      if (fields !== null && (await this.#change(fields, "The details are kept."))) this.#dialog.close();
    });
    return make("dialog", { class: "dialog dialog--wide", "aria-labelledby": "job-dialog-title" }, form);
  }

  #edit() {
    if (this.#job === null) return;
    setText(this.#error, "");
    this.#fields.fill(this.#job);
    this.#dialog.showModal();
  }

  /**
   * @param {JobFields} fields
   * @param {string} said
   * @returns {Promise<boolean>} whether the service took it
   */
  async #change(fields, said) {
    try {
      await this.#context.api.changeJob(this.id, fields);
      this.show(await this.#context.api.job(this.id));
      this.#context.announce(said);
      return true;
    } catch (error) {
      if (this.#dialog.open) setText(this.#error, sentence(error));
      else this.#context.refuse(sentence(error));
      return false;
    }
  }
}

/**
 * What is said of the job; what is not, is named in one line.
 * @param {Job} job
 * @returns {[string, string][]}
 */
function details(job) {
  const given = said(job).flatMap(([name, text]) => (text ? [/** @type {[string, string]} */ ([name, text])] : []));
  const open = said(job).flatMap(([name, text]) => (text ? [] : [name.toLowerCase()]));
  return open.length === 0 ? given : [...given, ["Not given", open.join(", ")]];
}

/**
 * @param {Job} job
 * @returns {[string, string | null][]}
 */
function said(job) {
  return [
    ["Make and model", job.make],
    ["Serial number", job.serial],
    ["Owner", job.owner],
    ["Operator", job.operator],
    ["Room", job.room_temperature_c === null ? null : `${trimmed(job.room_temperature_c)} °C`],
    ["Calibration", job.calibration_note],
    ["Remark", job.remark ?? null],
    ["Bench", job.mode === "practice" ? "practice bench: a simulated receiver" : "real bench"],
    ["State", job.state],
  ];
}

/**
 * The steps side by side, for the eye alone: the list below tells the same in words.
 * @param {Job} job
 * @param {string | null} onBench
 */
function stepStrip(job, onBench) {
  const box = (/** @type {import("./types.js").JobStep} */ step) => {
    const { tone, word, symbol: picture } = standingOf(step, step.id === job.next_step, step.id === onBench);
    const title = `${step.title}: ${word}`;
    return make("span", { class: "strip-of-steps__step", "data-tone": tone, title }, symbol(picture));
  };
  return make("div", { class: "strip-of-steps", "aria-hidden": "true" }, ...job.steps.map(box));
}

/**
 * @param {Job} job
 * @param {import("./types.js").JobStep} next
 * @param {string | null} onBench
 */
function goOn(job, next, onBench) {
  const text = onBench === null ? `Go on: ${next.title}` : `On the bench: ${next.title}`;
  return make("a", { class: "button button--primary", href: addressOf(["jobs", job.id, next.id]) }, text);
}

/**
 * How many steps stand in each way, those that are still to come left out.
 * @param {Job} job
 * @param {string | null} onBench
 */
function tallies(job, onBench) {
  /** @type {Map<string, {standing: import("./standing.js").Standing, count: number}>} */
  const seen = new Map();
  for (const step of job.steps) {
    if (step.state.ending === null && step.id !== onBench) continue;
    const standing = standingOf(step, false, step.id === onBench);
    const known = seen.get(standing.word);
    seen.set(standing.word, { standing, count: (known?.count ?? 0) + 1 });
  }
  return [...seen.values()].map(({ standing, count }) =>
    make("span", { class: "tag", "data-tone": standing.tone }, symbol(standing.symbol), `${count} ${standing.word}`),
  );
}
