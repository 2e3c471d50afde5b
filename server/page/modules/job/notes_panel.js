// Remarks and photos, of a job as a whole or of one step.

import { photoAddress, sentence } from "../shared/api.js";
import { make, setText } from "../shared/dom.js";
import { Slot } from "../shared/slot.js";
import { moment } from "../shared/words.js";

/** @typedef {import("./types.js").Remark} Remark */
/** @typedef {import("./types.js").Photo} Photo */

export class NotesPanel {
  #context;
  #job;
  #step;
  #list = new Slot(make("div", {}));
  #text;
  #file;
  #error = make("p", { class: "error", role: "alert" });

  /**
   * @param {import("../page.js").Context} context
   * @param {string} job
   * @param {string | null} step null for the job as a whole
   */
  constructor(context, job, step) {
    this.#context = context;
    this.#job = job;
    this.#step = step;
    this.#text = make("textarea", { id: "remark", rows: 2 });
    this.#file = make("input", { id: "photo", class: "unseen", type: "file", accept: "image/*", multiple: true });
    this.#file.addEventListener("change", () => this.#addPhotos());
    const form = make(
      "form",
      { class: "stack" },
      make("div", { class: "field" }, make("label", { for: "remark" }, "Remark"), this.#text),
      make(
        "div",
        { class: "actions" },
        make("button", { type: "submit", class: "button button--small" }, "Add the remark"),
        this.#file,
        make("label", { class: "button button--small button--file", for: "photo" }, "Add photos"),
      ),
      this.#error,
    );
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.#addRemark();
    });
    this.element = make(
      "section",
      { class: "sheet notes", "aria-labelledby": "notes-title" },
      make("h2", { id: "notes-title" }, "Remarks and photos"),
      this.#list.element,
      form,
    );
  }

  /**
   * @param {Remark[]} remarks
   * @param {Photo[]} photos
   */
  show(remarks, photos) {
    this.#list.show([remarks, photos], () => [
      remarks.length + photos.length === 0 && make("p", { class: "hint" }, "None yet."),
      remarks.length > 0 &&
        make(
          "ul",
          { class: "remarks" },
          ...remarks.map(({ at_utc: at, text }) =>
            make("li", {}, make("p", { class: "remarks__text" }, text), make("p", { class: "hint" }, moment(at))),
          ),
        ),
      photos.length > 0 && make("ul", { class: "photos" }, ...photos.map(photo)),
    ]);
  }

  async #addRemark() {
    const text = this.#text.value.trim();
    if (text === "") {
      setText(this.#error, "Write the remark first.");
      this.#text.focus();
      return;
    }
    await this.#try(async () => {
      await this.#context.api.remark(this.#job, this.#step, text);
      this.#text.value = "";
      this.#context.announce("The remark is kept.");
    });
  }

  async #addPhotos() {
    await this.#try(async () => {
      for (const file of this.#file.files ?? []) await this.#context.api.photo(this.#job, this.#step, file);
      this.#context.announce("The photos are kept.");
    });
    this.#file.value = "";
  }

  /** @param {() => Promise<void>} act */
  async #try(act) {
    setText(this.#error, "");
    try {
      await act();
      const job = await this.#context.api.job(this.#job);
      const place = this.#step === null ? job : job.steps.find(({ id }) => id === this.#step)?.state;
      this.show(place?.remarks ?? [], place?.photos ?? []);
    } catch (error) {
      setText(this.#error, sentence(error));
    }
  }
}

/** @param {Photo} photo */
function photo({ id, name, at_utc: at }) {
  return make(
    "li",
    {},
    make(
      "a",
      { href: photoAddress(id), target: "_blank", rel: "noopener" },
      make("img", { src: photoAddress(id), alt: `Photo ${name}, ${moment(at)}`, loading: "lazy" }),
    ),
  );
}
