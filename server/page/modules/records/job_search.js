// Jobs in the record: searched by receiver, step, verdict, date and text; taken away as report or file; brought back in.

import { jobAddress, sentence } from "../shared/api.js";
import { countsLine } from "../job/list.js";
import { fill, make, setText } from "../shared/dom.js";
import { addressOf } from "../shared/router.js";
import { counted, moment, startOfDay } from "../shared/words.js";
import { LongList } from "./long_list.js";

/** @typedef {import("../job/types.js").JobLine} JobLine */

const AT_FIRST = 50;

/** What the search asks, by the names of the service. */
const VERDICTS = /** @type {const} */ ([
  ["", "any"],
  ["good", "good"],
  ["off", "off"],
  ["suspect", "part suspected"],
  ["blocked", "blocked"],
  ["unjudged", "not judged"],
  ["unmeasured", "left unmeasured"],
]);

export class JobSearch {
  title = "Jobs";
  element;
  #context;
  #receiver = make("select", { id: "find-receiver" }, make("option", { value: "" }, "any"));
  #step = make("select", { id: "find-step", disabled: true }, make("option", { value: "" }, "any"));
  #verdict = make(
    "select",
    { id: "find-verdict" },
    ...VERDICTS.map(([value, word]) => make("option", { value }, word)),
  );
  #since = make("input", { id: "find-since", class: "text", type: "date" });
  #until = make("input", { id: "find-until", class: "text", type: "date" });
  #text = make("input", { id: "find-text", class: "text", type: "search", autocomplete: "off" });
  #state = make("p", { class: "hint", role: "status" });
  /** @type {LongList<JobLine>} */
  #list = new LongList(AT_FIRST, row);
  #file = make("input", { id: "import-file", class: "unseen", type: "file", accept: ".zip,application/zip" });
  #imported = make("p", { class: "hint", role: "status" });
  /** The latest search asked for; answers to earlier ones come too late. */
  #asked = 0;

  /** @param {import("../page.js").Context} context */
  constructor(context) {
    this.#context = context;
    this.#file.addEventListener("change", () => this.#import());
    this.element = make(
      "div",
      { class: "stack stack--wide" },
      this.#makeForm(),
      make(
        "div",
        { class: "page__head" },
        this.#state,
        make(
          "div",
          { class: "actions" },
          this.#file,
          make("label", { class: "button button--small button--file", for: "import-file" }, "Bring in a job file"),
        ),
      ),
      this.#imported,
      this.#list.element,
    );
  }

  #makeForm() {
    const field = (/** @type {string} */ label, /** @type {HTMLElement} */ input) =>
      make("div", { class: "field" }, make("label", { for: input.id }, label), input);
    const form = make(
      "form",
      { class: "sheet search", role: "search", "aria-label": "Jobs" },
      field("Text", this.#text),
      field("Receiver", this.#receiver),
      field("Step", this.#step),
      field("Verdict", this.#verdict),
      field("From", this.#since),
      field("To", this.#until),
      make(
        "div",
        { class: "search__foot" },
        make("button", { type: "submit", class: "button button--primary" }, "Find"),
        make("button", { type: "reset", class: "button" }, "Clear"),
      ),
    );
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.#find();
    });
    form.addEventListener("reset", () => setTimeout(() => this.#listSteps().then(() => this.#find())));
    this.#receiver.addEventListener("change", () => this.#listSteps().then(() => this.#find()));
    for (const input of [this.#step, this.#verdict, this.#since, this.#until])
      input.addEventListener("change", () => this.#find());
    return form;
  }

  async read() {
    try {
      const receivers = await this.#context.api.receivers();
      const chosen = this.#receiver.value;
      fill(
        this.#receiver,
        make("option", { value: "" }, "any"),
        ...receivers.map(({ id, name }) => make("option", { value: id }, name)),
      );
      this.#receiver.value = chosen;
    } catch {
      // The search itself tells what is wrong.
    }
    await this.#find();
  }

  async #listSteps() {
    const id = this.#receiver.value;
    const steps =
      id === ""
        ? []
        : (await this.#context.api.get(`/api/receivers/${encodeURIComponent(id)}/plan`).catch(() => ({ steps: [] })))
            .steps;
    fill(
      this.#step,
      make("option", { value: "" }, "any"),
      ...steps.map((/** @type {{id: string, title: string}} */ step) => make("option", { value: step.id }, step.title)),
    );
    this.#step.disabled = steps.length === 0;
  }

  async #find() {
    const asked = ++this.#asked;
    this.#list.shorten();
    try {
      const jobs = await this.#context.api.jobs({
        text: this.#text.value.trim(),
        receiver_id: this.#receiver.value,
        step: this.#step.value,
        verdict: this.#verdict.value,
        since: startOfDay(this.#since.value, 0),
        until: startOfDay(this.#until.value, 1),
      });
      if (asked === this.#asked) this.#show(jobs);
    } catch (error) {
      if (asked === this.#asked) setText(this.#state, `The list is not up to date. ${sentence(error)}`);
    }
  }

  /** @param {JobLine[]} jobs */
  #show(jobs) {
    setText(
      this.#state,
      jobs.length === 0 ? "No job answers to this." : `${counted(jobs.length, "job")}, newest first`,
    );
    this.#list.show(jobs);
  }

  async #import() {
    const [file] = this.#file.files ?? [];
    if (file === undefined) return;
    try {
      const { id } = await this.#context.api.importJob(file);
      fill(
        this.#imported,
        `${file.name} is in the record now as `,
        make("a", { href: addressOf(["jobs", id]) }, `job ${id}`),
        ".",
      );
      await this.#find();
    } catch (error) {
      setText(this.#imported, `${file.name} was not brought in. ${sentence(error)}`);
    } finally {
      this.#file.value = "";
    }
  }
}

/** @param {JobLine} job */
function row(job) {
  const set = [job.make, job.serial && `serial ${job.serial}`, job.owner && `for ${job.owner}`];
  const title = { class: "record__title", href: addressOf(["jobs", job.id]), "data-control": `job ${job.id}` };
  return make(
    "li",
    { class: "record" },
    make(
      "div",
      { class: "record__what" },
      make("a", title, job.receiver_name),
      make("p", {}, set.filter(Boolean).join(" · ") || "make, serial and owner not given"),
    ),
    make("p", { class: "record__when hint" }, `${moment(job.started_utc)} · job ${job.id} · ${job.state}`),
    countsLine(job),
    files(job),
  );
}

/** @param {JobLine} job */
function files({ id, receiver_id: receiver, receiver_name: receiverName, serial }) {
  const name = `job ${id}, ${receiverName}`;
  const file = (/** @type {string} */ path, /** @type {string} */ text) => {
    const download = path !== "report.html";
    return make("a", { href: `${jobAddress(id)}/${path}`, "aria-label": `${text} of ${name}`, download }, text);
  };
  const history = addressOf(["records", "history"], { receiver, serial });
  return make(
    "div",
    { class: "record__files" },
    file("report.html", "Report"),
    file("report.pdf", "PDF"),
    file("job.zip", "Job file"),
    serial && make("a", { href: history, "aria-label": `History of ${name}` }, "History"),
  );
}
