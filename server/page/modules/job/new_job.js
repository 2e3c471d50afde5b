// A new job: which receiver, whose, and what is worth knowing about the bench today.

import { sentence } from "../shared/api.js";
import { fill, make, setText } from "../shared/dom.js";
import { readPlace } from "../shared/router.js";
import { cautionList } from "../shared/cautions.js";
import { DetailsFields } from "./details_form.js";
import { trail } from "./trail.js";

/** @typedef {import("./types.js").ReceiverLine} ReceiverLine */

export class NewJob {
  title = "New job";
  element;
  #context;
  #begun;
  #receiver = make("select", { id: "new-receiver", disabled: true });
  #cautions = make("div", { class: "form-grid__wide" });
  #details = new DetailsFields("new");
  #remark = make("textarea", { id: "new-remark", rows: 3 });
  #error = make("p", { class: "error", role: "alert" });
  #state = make("p", { class: "hint" });
  #begin = make("button", { type: "submit", class: "button button--primary" }, "Begin the job");
  /** @type {ReceiverLine[]} */
  #receivers = [];

  /**
   * @param {import("../page.js").Context} context
   * @param {(id: string | number) => void} begun
   */
  constructor(context, begun) {
    this.#context = context;
    this.#begun = begun;
    this.#receiver.addEventListener("change", () => this.#showCautions());
    const form = make(
      "form",
      { class: "sheet form", novalidate: true },
      make("div", { class: "field" }, make("label", { for: "new-receiver" }, "Receiver"), this.#receiver, this.#state),
      this.#cautions,
      this.#details.element,
      make(
        "div",
        { class: "field" },
        make("label", { for: "new-remark" }, "What the owner says, what you see"),
        this.#remark,
      ),
      make(
        "div",
        { class: "form__foot" },
        this.#begin,
        make("a", { class: "button", href: "#/jobs" }, "Not now"),
        this.#error,
      ),
    );
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.#submit();
    });
    this.element = make(
      "div",
      { class: "narrow" },
      trail([
        ["Jobs", "#/jobs"],
        ["New job", null],
      ]),
      make("h1", {}, "New job"),
      form,
    );
  }

  refresh() {
    const wanted = readPlace().query.receiver;
    if (wanted !== undefined && this.#receivers.some(({ id }) => id === wanted)) this.#receiver.value = wanted;
    this.#showCautions();
  }

  async read() {
    try {
      const before = this.#receiver.value;
      this.#receivers = await this.#context.api.receivers();
      fill(this.#receiver, ...this.#receivers.map(({ id, name }) => make("option", { value: id }, name)));
      this.#receiver.disabled = this.#receivers.length === 0;
      if (this.#receivers.some(({ id }) => id === before)) this.#receiver.value = before;
      else this.refresh();
      setText(
        this.#state,
        this.#receivers.length === 0 ? "The service knows no receiver; add a receiver file and restart it." : "",
      );
      this.#showCautions();
    } catch (error) {
      setText(this.#state, `The receivers are not known yet. ${sentence(error)}`);
    }
  }

  #showCautions() {
    const chosen = this.#receivers.find(({ id }) => id === this.#receiver.value);
    fill(this.#cautions, chosen && cautionList(chosen.cautions));
  }

  async #submit() {
    setText(this.#error, "");
    if (this.#receiver.value === "") {
      setText(this.#error, "Choose the receiver first.");
      return;
    }
    const fields = this.#details.read();
    if (fields === null) return;
    this.#begin.disabled = true;
    try {
      const remark = this.#remark.value.trim();
      const { id } = await this.#context.api.newJob({
        receiver_id: this.#receiver.value,
        ...fields,
        ...(remark === "" ? {} : { remark }),
      });
      this.#context.announce("The job is begun.");
      const { operator = null, room_temperature_c = null, calibration_note = null } = fields;
      this.#details.fill({ operator, room_temperature_c, calibration_note });
      this.#remark.value = "";
      this.#begun(id);
    } catch (error) {
      setText(this.#error, sentence(error));
    } finally {
      this.#begin.disabled = false;
    }
  }
}
