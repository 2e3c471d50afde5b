// Jobs: their list, the form of a new one, one job with its plan, and one step of it. One of these is in view.

import { sentence } from "../shared/api.js";
import { byId, fill } from "../shared/dom.js";
import { addressOf, readPlace } from "../shared/router.js";
import { JobView } from "./job_view.js";
import { JobList } from "./list.js";
import { NewJob } from "./new_job.js";
import { StepView } from "./step_view.js";

/** @typedef {import("./types.js").Job} Job */
/** @typedef {import("../shared/router.js").Place} Place */

/**
 * What can be in view here.
 * @typedef {object} Part
 * @property {HTMLElement} element
 * @property {string} title
 * @property {() => void} refresh what may be done from this page, or the job that is shown, has changed
 */

export class JobPages {
  host = byId("jobs-page", HTMLElement);
  #context;
  #list;
  #new;
  /** @type {JobView | null} */
  #job = null;
  /** @type {StepView | null} */
  #step = null;
  /** @type {Part | null} */
  #part = null;
  /** The job in view as it was last read. @type {Job | null} */
  #known = null;
  /** The instruments that were there when the job was last read. @type {string | null} */
  #ready = null;
  #reading = false;
  #readAgain = false;
  #inFront = false;
  /** Whether the heading is to take the focus once it is there. */
  #headingDue = false;

  /** @param {import("../page.js").Context} context */
  constructor(context) {
    this.#context = context;
    this.#list = new JobList(context);
    this.#new = new NewJob(context, (id) => {
      location.hash = addressOf(["jobs", id]);
    });
  }

  get title() {
    return this.#part?.title ?? "Jobs";
  }

  /**
   * @param {Place} place
   * @param {boolean} moved
   */
  show({ path }, moved) {
    this.#inFront = true;
    const [, job, step] = path;
    if (job === undefined) this.#open(this.#list);
    else if (job === "new") this.#open(this.#new);
    else this.#openJob(job, step ?? null);
    this.#headingDue = moved;
    this.#focusHeading();
  }

  hide() {
    this.#inFront = false;
    this.#step?.leave();
  }

  /** @param {import("../shared/types.js").Bench} bench */
  bench(bench) {
    this.situation();
    const ready = readyRoles(bench);
    if (ready === this.#ready) return;
    this.#ready = ready;
    // What a step is refused for, and the ways it can be measured, hang on the instruments that are there.
    if (this.#known !== null) this.#read(String(this.#known.id));
  }

  situation() {
    if (this.#inFront) this.#part?.refresh();
  }

  /** @param {import("../shared/types.js").LiveEvent} item */
  take(item) {
    this.#step?.take(item);
  }

  /**
   * This job changed.
   * @param {string} id
   */
  changed(id) {
    if (this.#known !== null && String(this.#known.id) === id) this.#read(id);
    if (this.#part === this.#list) this.#list.read();
  }

  async reread() {
    if (this.#part === this.#list || this.#part === this.#new) await Promise.all([this.#list.read(), this.#new.read()]);
    if (this.#known !== null) await this.#read(String(this.#known.id));
    await this.#step?.reread();
  }

  /** Stop the step that is on the bench. */
  async stop() {
    try {
      await this.#context.api.stop();
      this.#context.announce("Stop asked for.");
    } catch (error) {
      this.#context.refuse(sentence(error));
    }
  }

  /** @param {Part} part */
  #open(part) {
    if (this.#part !== part) {
      if (this.#part === this.#step) this.#step?.leave();
      this.#part = part;
      fill(this.host, part.element);
    }
    if (part === this.#list) this.#list.read();
    if (part === this.#new) this.#new.read();
    part.refresh();
  }

  /**
   * @param {string} id
   * @param {string | null} step
   */
  #openJob(id, step) {
    if (this.#known !== null && String(this.#known.id) !== id) this.#known = null;
    if (step === null) {
      this.#job = this.#job?.id === id ? this.#job : new JobView(this.#context, id);
      this.#open(this.#job);
    } else {
      if (this.#step?.id !== id || this.#step.stepId !== step) {
        this.#step?.leave();
        this.#step = new StepView(this.#context, id, step, { stop: () => this.stop(), reread: () => this.#read(id) });
      }
      this.#open(this.#step);
    }
    this.#tell();
    this.#read(id);
  }

  /**
   * Read the job; once more where it changed meanwhile, so that the last word is shown.
   * @param {string} id
   */
  async #read(id) {
    if (this.#reading) {
      this.#readAgain = true;
      return;
    }
    this.#reading = true;
    try {
      const job = await this.#context.api.job(id);
      if (readPlace().path[1] === id || this.#known === null) this.#known = job;
      this.#tell();
    } catch (error) {
      if (this.#part === this.#job) this.#job?.fail(sentence(error));
      if (this.#part === this.#step) this.#step?.fail(sentence(error));
    } finally {
      this.#reading = false;
    }
    if (!this.#readAgain) return;
    this.#readAgain = false;
    const wanted = readPlace().path[1];
    if (wanted !== undefined && wanted !== "new") await this.#read(wanted);
  }

  #tell() {
    if (this.#known === null) return;
    const id = String(this.#known.id);
    if (this.#job?.id === id) this.#job.show(this.#known);
    if (this.#step?.id === id) this.#step.show(this.#known);
    if (!this.#inFront) return;
    document.title = `${this.title} · Peakwright`;
    this.#focusHeading();
  }

  /** Whoever came here by a link hears where they are; whoever has gone on to a control meanwhile is left there. */
  #focusHeading() {
    const heading = this.host.querySelector("h1");
    if (!this.#headingDue || !(heading instanceof HTMLElement)) return;
    this.#headingDue = false;
    if (document.activeElement !== null && document.activeElement !== document.body) return;
    heading.tabIndex = -1;
    heading.focus({ preventScroll: true });
  }
}

/** @param {import("../shared/types.js").Bench} bench */
function readyRoles({ instruments }) {
  return instruments
    .filter(({ state }) => state === "ready")
    .map(({ role }) => role)
    .join();
}
