// The records: jobs to search, the history of one receiver, scans by themselves. One of the three is in view.

import { byId, fill, make } from "../shared/dom.js";
import { History } from "./history.js";
import { JobSearch } from "./job_search.js";
import { KeptScans } from "./kept_scans.js";

/** @typedef {import("../shared/router.js").Place} Place */

/**
 * @typedef {object} RecordsPart
 * @property {HTMLElement} element
 * @property {string} title
 * @property {(query: Record<string, string>) => Promise<void>} read
 */

export class RecordsPage {
  host = byId("records-page", HTMLElement);
  #links;
  #body = make("div", {});
  /** @type {Record<string, RecordsPart>} */
  #parts;
  /** @type {RecordsPart} */
  #part;
  /** @type {Record<string, string>} */
  #query = {};
  #inFront = false;

  /** @param {import("../page.js").Context} context */
  constructor(context) {
    const jobs = new JobSearch(context);
    this.#parts = { jobs, history: new History(context), scans: new KeptScans(context) };
    this.#part = jobs;
    const link = (/** @type {string} */ href, /** @type {string} */ text) => make("a", { href }, text);
    this.#links = [link("#/records", "Jobs"), link("#/records/history", "History"), link("#/records/scans", "Scans")];
    fill(
      this.host,
      make(
        "div",
        { class: "page__head" },
        make("h1", {}, "Records"),
        make("nav", { class: "tabs", "aria-label": "Records" }, ...this.#links),
      ),
      this.#body,
    );
  }

  get title() {
    return `${this.#part.title}, records`;
  }

  /** @param {Place} place */
  show({ path, query }) {
    this.#inFront = true;
    const name = path[1] ?? "jobs";
    const part = this.#parts[name] ?? this.#parts.jobs;
    if (part === undefined) return;
    this.#part = part;
    this.#query = query;
    this.#links.forEach((link, index) => {
      if (index === ["jobs", "history", "scans"].indexOf(name)) link.setAttribute("aria-current", "page");
      else link.removeAttribute("aria-current");
    });
    if (this.#body.firstElementChild !== part.element) fill(this.#body, part.element);
    part.read(query);
  }

  hide() {
    this.#inFront = false;
  }

  bench() {}

  situation() {}

  take() {}

  async reread() {
    if (this.#inFront) await this.#part.read(this.#query);
  }
}
