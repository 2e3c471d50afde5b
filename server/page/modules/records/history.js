// The same receiver over the years: each figure against time, drawn small and told in full.

import { sentence } from "../shared/api.js";
import { fill, make, setText } from "../shared/dom.js";
import { addressOf } from "../shared/router.js";
import { Slot } from "../shared/slot.js";
import { capital, counted, moment } from "../shared/words.js";
import { valueText } from "../job/figures.js";
import { verdictWords } from "../job/standing.js";
import { timePicture } from "./time_picture.js";

/** @typedef {import("../job/types.js").HistoryRow} HistoryRow */

/** @typedef {{step: string, name: string, where: string, unit: string, rows: HistoryRow[]}} Series */

export class History {
  title = "History";
  element;
  #context;
  #receiver = make("select", { id: "history-receiver" });
  #serial = make("select", { id: "history-serial" });
  #state = make("p", { class: "hint", role: "status" });
  #list = new Slot(make("div", {}));
  /** Which receiver the titles of the steps are of. @type {{id: string, titles: Map<string, string>}} */
  #plan = { id: "", titles: new Map() };
  #asked = 0;

  /** @param {import("../page.js").Context} context */
  constructor(context) {
    this.#context = context;
    const go = (/** @type {string} */ serial) => {
      location.hash = addressOf(["records", "history"], { receiver: this.#receiver.value, serial });
    };
    this.#receiver.addEventListener("change", () => go(""));
    this.#serial.addEventListener("change", () => go(this.#serial.value));
    this.element = make(
      "div",
      { class: "stack stack--wide" },
      make(
        "div",
        { class: "sheet search" },
        make("div", { class: "field" }, make("label", { for: "history-receiver" }, "Receiver"), this.#receiver),
        make("div", { class: "field" }, make("label", { for: "history-serial" }, "Serial number"), this.#serial),
      ),
      this.#state,
      this.#list.element,
    );
  }

  /** @param {Record<string, string>} query */
  async read({ receiver, serial = "" }) {
    const asked = ++this.#asked;
    try {
      const receivers = await this.#context.api.receivers();
      const id = receiver ?? receivers[0]?.id;
      if (id === undefined) return setText(this.#state, "The service knows no receiver.");
      const [rows, jobs] = await Promise.all([
        this.#context.api.history(id, serial === "" ? null : serial),
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
      this.#show(rows);
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

  /** @param {HistoryRow[]} rows */
  #show(rows) {
    const measured = rows.filter(({ value }) => value !== null);
    const jobs = new Set(measured.map(({ job_id: job }) => String(job))).size;
    setText(
      this.#state,
      measured.length === 0
        ? "Nothing measured yet. Each figure of each job appears here, against time."
        : `${counted(measured.length, "figure")} of ${counted(jobs, "job")}`,
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
