// The list of jobs: those that are on, then those that are done; and the way to a new one.

import { sentence } from "../shared/api.js";
import { make, setText, symbol } from "../shared/dom.js";
import { addressOf } from "../shared/router.js";
import { Slot } from "../shared/slot.js";
import { counted, moment } from "../shared/words.js";
import { COUNTS } from "./standing.js";

/** @typedef {import("./types.js").JobLine} JobLine */
/** @typedef {import("./types.js").ReceiverLine} ReceiverLine */

const DONE_AT_FIRST = 12;

export class JobList {
  title = "Jobs";
  element = make("div", { class: "stack stack--wide" });
  #context;
  #state = make("p", { class: "hint", role: "status" }, "Asking for the jobs.");
  #open = new Slot(make("div", {}));
  #done = new Slot(make("div", {}));
  #receivers = new Slot(make("div", {}));

  /** @param {import("../page.js").Context} context */
  constructor(context) {
    this.#context = context;
    this.element.append(
      make(
        "div",
        { class: "page__head" },
        make("h1", {}, "Jobs"),
        make("a", { class: "button button--primary", href: "#/jobs/new" }, "New job"),
      ),
      this.#state,
      this.#open.element,
      this.#done.element,
      this.#receivers.element,
    );
  }

  refresh() {}

  async read() {
    const [jobs, receivers] = await Promise.allSettled([this.#context.api.jobs(), this.#context.api.receivers()]);
    if (receivers.status === "fulfilled") this.#showReceivers(receivers.value);
    const steps = new Map(receivers.status === "fulfilled" ? receivers.value.map((each) => [each.id, each.steps]) : []);
    if (jobs.status === "fulfilled") this.#show(jobs.value, steps);
    else setText(this.#state, `The list is not up to date. ${sentence(jobs.reason)}`);
  }

  /**
   * @param {JobLine[]} jobs
   * @param {Map<string, number>} steps how many the plan of each receiver has
   */
  #show(jobs, steps) {
    setText(
      this.#state,
      jobs.length === 0
        ? "No job yet. A job is one receiver on the bench: begin with its details, and the plan follows."
        : "",
    );
    const open = jobs.filter(({ state }) => state !== "done");
    const done = jobs.filter(({ state }) => state === "done");
    this.#open.show([open, [...steps]], () => [open.length > 0 && section("On the way", open, steps)]);
    this.#done.show([done, [...steps]], () => [
      done.length > 0 && section("Done", done.slice(0, DONE_AT_FIRST), steps),
      done.length > DONE_AT_FIRST &&
        make("p", {}, make("a", { href: "#/records" }, `All ${done.length} in the records`)),
    ]);
  }

  /** @param {ReceiverLine[]} receivers */
  #showReceivers(receivers) {
    this.#receivers.show(receivers, () => [
      make(
        "section",
        { "aria-labelledby": "receivers-title" },
        make("h2", { id: "receivers-title" }, "Receivers"),
        receivers.length === 0 &&
          make("p", { class: "hint" }, "The service knows no receiver; add a receiver file and restart it."),
        make("ul", { class: "cards" }, ...receivers.map(receiverCard)),
      ),
    ]);
  }
}

/**
 * @param {string} title
 * @param {JobLine[]} jobs
 * @param {Map<string, number>} steps
 */
function section(title, jobs, steps) {
  const id = `jobs-${title.toLowerCase().replaceAll(" ", "-")}`;
  return make(
    "section",
    { "aria-labelledby": id },
    make("h2", { id }, title),
    make("ul", { class: "cards" }, ...jobs.map((job) => jobCard(job, steps.get(job.receiver_id) ?? null))),
  );
}

/**
 * @param {JobLine} job
 * @param {number | null} steps how many its plan has
 */
function jobCard(job, steps) {
  const set = [job.make, job.serial && `serial ${job.serial}`].filter(Boolean).join(", ");
  return make(
    "li",
    { class: "card job-card", "data-job": job.id },
    make(
      "h3",
      { class: "card__title" },
      make(
        "a",
        { class: "card__link", href: addressOf(["jobs", job.id]), "data-control": `job ${job.id}` },
        job.receiver_name,
      ),
      job.state === "paused" && make("span", { class: "tag" }, symbol("wait"), "paused"),
    ),
    make("p", { class: "card__what" }, set || "make and serial not given"),
    make(
      "p",
      { class: "hint" },
      [
        job.owner && `for ${job.owner}`,
        `begun ${moment(job.started_utc)}`,
        job.ended_utc && `done ${moment(job.ended_utc)}`,
        `job ${job.id}`,
      ]
        .filter(Boolean)
        .join(" · "),
    ),
    steps !== null && progressBar(job.steps_done ?? 0, steps),
    countsLine(job),
  );
}

/**
 * @param {number} done
 * @param {number} all
 */
const progressBar = (done, all) =>
  make(
    "div",
    { class: "card__progress" },
    make("progress", {
      class: "run__bar run__bar--thin",
      value: Math.min(done, all),
      max: all,
      "aria-label": "Steps done",
    }),
    make("span", { class: "hint" }, `${done} of ${all} steps`),
  );

/**
 * How a job's steps ended, each kind with its shape, its number and its word.
 * @param {JobLine} job
 */
export function countsLine({ counts = {}, steps_done: done = 0 }) {
  const told = COUNTS.filter(([name]) => (counts[name] ?? 0) > 0);
  if (told.length === 0)
    return make("p", { class: "counts" }, done === 0 ? "nothing measured yet" : `${counted(done, "step")} done`);
  return make(
    "ul",
    { class: "counts", "aria-label": "Steps" },
    ...told.map(([name, { symbol: picture, word, tone }]) =>
      make("li", { class: "tag", "data-tone": tone }, symbol(picture), `${counts[name]} ${word}`),
    ),
  );
}

/** @param {ReceiverLine} receiver */
function receiverCard({ id, name, supply, steps }) {
  return make(
    "li",
    { class: "card" },
    make("h3", { class: "card__title" }, name),
    make("p", { class: "hint" }, `${counted(steps, "step")} in its plan · ${supply} supply`),
    make(
      "p",
      { class: "card__actions" },
      make(
        "a",
        {
          class: "button button--small",
          href: addressOf(["jobs", "new"], { receiver: id }),
          "aria-label": `Begin a job on a ${name}`,
        },
        "Begin a job",
      ),
      make(
        "a",
        {
          class: "button button--small",
          href: addressOf(["records", "history"], { receiver: id }),
          "aria-label": `History of the ${name}`,
        },
        "History",
      ),
    ),
  );
}
