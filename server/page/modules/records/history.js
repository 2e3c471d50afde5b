// The same receiver over the years: each figure against time, drawn small and told in full.

import { sentence } from "../shared/api.js";
import { fill, make, setText } from "../shared/dom.js";
import { addressOf } from "../shared/router.js";
import { Slot } from "../shared/slot.js";
import { capital, counted, moment, startOfDay } from "../shared/words.js";
import { valueText } from "../job/figures.js";
import { verdictWords } from "../job/standing.js";
import { timePicture } from "./time_picture.js";

/** @typedef {import("../job/types.js").HistoryFound} HistoryFound */
/** @typedef {import("../job/types.js").HistoryRow} HistoryRow */

/** @typedef {{step: string, name: string, where: string, unit: string, rows: HistoryRow[]}} Series */

export class History {
  title = "History";
  element;
  #context;
  #receiver = make("select", { id: "history-receiver" });
  #serial = make("select", { id: "history-serial" });
  #since = make("input", { id: "history-since", class: "text", type: "date" });
  #until = make("input", { id: "history-until", class: "text", type: "date" });
  #state = make("p", { class: "hint", role: "status" });
  #list = new Slot(make("div", {}));
  /** Which receiver the titles of the steps are of. @type {{id: string, titles: Map<string, string>}} */
  #plan = { id: "", titles: new Map() };
  #asked = 0;

  /** @param {import("../page.js").Context} context */
  constructor(context) {
    this.#context = context;
    const go = (/** @type {string} */ serial) => {
      const [since, until] = [this.#since.value, this.#until.value];
      location.hash = addressOf(["records", "history"], { receiver: this.#receiver.value, serial, since, until });
    };
    const field = (/** @type {string} */ label, /** @type {HTMLElement} */ input) =>
      make("div", { class: "field" }, make("label", { for: input.id }, label), input);
    this.#receiver.addEventListener("change", () => go(""));
    for (const input of [this.#serial, this.#since, this.#until])
      input.addEventListener("change", () => go(this.#serial.value));
    this.element = make(
      "div",
      { class: "stack stack--wide" },
      make(
        "div",
        { class: "sheet search" },
        field("Receiver", this.#receiver),
        field("Serial number", this.#serial),
        field("From", this.#since),
        field("To", this.#until),
      ),
      this.#state,
      this.#list.element,
    );
  }

  /** @param {Record<string, string>} query */
  async read({ receiver, serial = "", since = "", until = "" }) {
    const asked = ++this.#asked;
    try {
      const receivers = await this.#context.api.receivers();
      const id = receiver ?? receivers[0]?.id;
      if (id === undefined) return setText(this.#state, "The service knows no receiver.");
      const days = { since: startOfDay(since, 0), until: startOfDay(until, 1) };
      const [found, jobs] = await Promise.all([
        this.#context.api.history({ receiver_id: id, serial, ...days }),
        this.#context.api.jobs({ receiver_id: id }),
        this.#learnPlan(id),
      ]);
      if (asked !== this.#asked) return;
      const serials = [...new Set([...jobs.map((job) => job.serial ?? ""), serial])]
        .filter((each) => each !== "")
        .sort();
      fill(this.#receiver, ...receivers.map((each) => make("option", { value: each.id }, each.name)));
      fill(
        this.#serial,
        make("option", { value: "" }, "every set of this receiver"),
        ...serials.map((each) => make("option", { value: each }, each)),
      );
      this.#receiver.value = id;
      this.#serial.value = serial;
      this.#since.value = since;
      this.#until.value = until;
      this.#show(found);
    } catch (error) {
      setText(this.#state, `The history is not up to date. ${sentence(error)}`);
    }
  }

  /** @param {string} id */
  async #learnPlan(id) {
    if (this.#plan.id === id) return;
    const { steps } = await this.#context.api.get(`/api/receivers/${encodeURIComponent(id)}/plan`);
    this.#plan = {
      id,
      titles: new Map(steps.map((/** @type {{id: string, title: string}} */ step) => [step.id, step.title])),
    };
  }

  /** @param {HistoryFound} found */
  #show({ figures, jobs, jobs_shown: shown }) {
    const measured = figures.filter(({ value }) => value !== null);
    setText(
      this.#state,
      measured.length === 0
        ? "Nothing measured yet. Each figure of each job appears here, against time."
        : `${counted(measured.length, "figure")} of ${howManyJobs(jobs, shown)}`,
    );
    this.#list.show([measured, this.#plan.id], () => [
      make(
        "div",
        { class: "histories" },
        ...[...byStep(seriesOf(measured))].map(([step, series]) => this.#section(step, series)),
      ),
    ]);
  }

  /**
   * @param {string} step
   * @param {Series[]} series
   */
  #section(step, series) {
    const title = this.#plan.titles.get(step) ?? step;
    const id = `history-${step}`;
    return make(
      "section",
      { class: "sheet history", "aria-labelledby": id },
      make("h2", { id }, title),
      make("div", { class: "history__series" }, ...series.map((each) => seriesPart(title, each))),
    );
  }
}

/**
 * @param {number} jobs
 * @param {number} shown
 */
const howManyJobs = (jobs, shown) =>
  shown === jobs
    ? counted(jobs, "job")
    : `${shown} of ${counted(jobs, "job")}, spread evenly from the first to the last. Choose a serial number or fewer days to see the others.`;

/**
 * @param {HistoryRow[]} rows
 * @returns {Series[]}
 */
function seriesOf(rows) {
  /** @type {Map<string, Series>} */
  const all = new Map();
  for (const row of rows) {
    const key = [row.step_id, row.name, row.where, row.unit].join("\n");
    const known = all.get(key) ?? { step: row.step_id, name: row.name, where: row.where, unit: row.unit, rows: [] };
    known.rows.push(row);
    all.set(key, known);
  }
  for (const { rows: each } of all.values()) each.sort((one, other) => one.at_utc.localeCompare(other.at_utc));
  return [...all.values()];
}

/**
 * @param {Series[]} series
 * @returns {Map<string, Series[]>}
 */
function byStep(series) {
  /** @type {Map<string, Series[]>} */
  const steps = new Map();
  for (const each of series) steps.set(each.step, [...(steps.get(each.step) ?? []), each]);
  return steps;
}

/**
 * @param {string} title
 * @param {Series} series
 */
function seriesPart(title, { name, where, unit, rows }) {
  const what = where === "" ? name : `${name}, ${where}`;
  const last = rows.at(-1);
  return make(
    "div",
    { class: "series" },
    make("h3", {}, capital(what)),
    last &&
      make(
        "p",
        { class: "series__last" },
        make("strong", {}, valueText(Number(last.value), last.sigma, unit)),
        make("span", { class: "hint" }, ` ${last.phase}, ${moment(last.at_utc)}`),
      ),
    timePicture(rows, unit),
    make(
      "details",
      { class: "series__all" },
      make("summary", {}, `${counted(rows.length, "figure")} as a table`),
      make(
        "div",
        { class: "table-frame", tabindex: 0, role: "region", "aria-label": `${title}: ${what}` },
        seriesTable(what, unit, rows),
      ),
    ),
  );
}

/**
 * @param {string} what
 * @param {string} unit
 * @param {HistoryRow[]} rows
 */
function seriesTable(what, unit, rows) {
  return make(
    "table",
    { class: "readings history__table" },
    make("caption", { class: "unseen" }, what),
    make(
      "thead",
      {},
      make(
        "tr",
        {},
        ...["When", "Phase", "Figure", "Verdict", "Job"].map((head) => make("th", { scope: "col" }, head)),
      ),
    ),
    make(
      "tbody",
      {},
      ...[...rows]
        .reverse()
        .map((row) =>
          make(
            "tr",
            {},
            make("td", {}, moment(row.at_utc)),
            make("td", {}, row.phase),
            make("td", {}, valueText(Number(row.value), row.sigma, unit)),
            make("td", {}, row.verdict === null ? "" : verdictWords(row.verdict).word),
            make("td", {}, make("a", { href: addressOf(["jobs", row.job_id, row.step_id]) }, `job ${row.job_id}`)),
          ),
        ),
    ),
  );
}
