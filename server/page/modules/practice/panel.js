// The practice bench on the page: what hands would do on a chassis, done to the simulated receiver.

import { fill, make, setText, symbol } from "../shared/dom.js";
import { controlFields } from "./controls.js";
import { Knob } from "./knob.js";
import { leadFields } from "./leads.js";
import { truthList } from "./truth.js";

/** @typedef {import("./types.js").Practice} Practice */
/** @typedef {import("./types.js").PracticeCalls} PracticeCalls */

export class PracticePanel {
  #calls;
  /** @type {Practice | null} */
  #practice = null;
  /** The knobs that have been shown; each remembers how far it was turned. @type {Map<string, Knob>} */
  #knobs = new Map();
  /** Which unit of which receiver the knobs belong to. */
  #unit = "";
  /** The controls and leads that are shown: while they are the same, what is being typed into them stays. */
  #fields = "";
  #title = make("p", { class: "practice__unit" });
  #pick = make("select", { onchange: () => this.point(this.#pick.value) });
  #place = make("div", { class: "practice__knob" });
  #controls = make("div", { class: "practice__grid" });
  #leads = make("div", { class: "practice__grid" });
  #receiver = make("select", {});
  #seed = make("input", { type: "number", min: "0", step: "1", inputmode: "numeric" });
  #truth = make("div", { class: "practice__truth" });
  #reveal = make(
    "button",
    { type: "button", class: "button", "aria-expanded": "false", onclick: () => this.#showTruth() },
    "Show the truth",
  );
  #trouble = make("p", { class: "error", role: "alert" });
  element;

  /** @param {PracticeCalls} calls */
  constructor(calls) {
    this.#calls = calls;
    this.element = make(
      "section",
      { class: "practice", "aria-label": "Practice bench" },
      make(
        "div",
        { class: "practice__head" },
        make("p", { class: "practice__tag" }, symbol("practice"), "Practice"),
        this.#title,
      ),
      make("p", { class: "hint" }, "A simulated receiver. Turn, set and connect here what you would on the chassis."),
      make("label", { class: "practice__pick" }, make("span", {}, "Adjuster"), this.#pick),
      this.#place,
      this.#trouble,
      fold("Front of the receiver", this.#controls),
      fold("Leads", this.#leads),
      fold("Another receiver, and the truth", this.#another()),
    );
  }

  /** Read the practice bench and show it. To be called whenever it may have changed. */
  async refresh() {
    await this.#try(async () => this.#show(await this.#calls.read()));
  }

  /**
   * Bring an adjuster under the hand.
   * @param {string} name
   */
  point(name) {
    const knob = this.#knobs.get(name) ?? this.#makeKnob(name);
    if (knob === null || this.#place.firstChild === knob.element) return;
    this.#pick.value = name;
    fill(this.#place, knob.element);
  }

  /** @param {Practice} practice */
  #show(practice) {
    this.#practice = practice;
    const { receiver, receivers, seed } = practice;
    const unit = `${receiver.id} ${seed}`;
    if (unit !== this.#unit) this.#begin(unit, practice);
    setText(this.#title, `${receiver.name}, unit ${seed}`);
    for (const { name, position_turns: position } of receiver.adjusters) this.#knobs.get(name)?.stands(position);
    const fields = JSON.stringify([receiver.controls, practice.leads]);
    if (fields === this.#fields) return;
    this.#fields = fields;
    fill(this.#controls, ...controlFields(receiver.controls, (name, to) => this.#try(() => this.#calls.set(name, to))));
    fill(this.#leads, ...leadFields(practice, (role, to, through) => this.#try(() => this.#calls.connect(role, to, through))));
    fill(this.#receiver, ...receivers.map(({ id, name }) => make("option", { value: id, selected: id === receiver.id }, name)));
  }

  /**
   * Another receiver, or another unit of it, stands on the bench.
   * @param {string} unit
   * @param {Practice} practice
   */
  #begin(unit, { receiver, seed }) {
    this.#unit = unit;
    this.#fields = "";
    this.#knobs.clear();
    this.#hideTruth();
    this.#seed.value = String(seed);
    const names = receiver.adjusters.map(({ name, factory_only: factory }) => ({
      name,
      shown: factory ? `${name} (factory only)` : name,
    }));
    fill(this.#pick, ...names.map(({ name, shown }) => make("option", { value: name }, shown)));
    fill(this.#place);
    const [first] = receiver.adjusters;
    if (first !== undefined) this.point(first.name);
  }

  /** @param {string} name */
  #makeKnob(name) {
    const adjuster = this.#practice?.receiver.adjusters.find((each) => each.name === name);
    if (adjuster === undefined) return null;
    const knob = new Knob(adjuster, (turns) => this.#calls.turn(name, turns));
    this.#knobs.set(name, knob);
    return knob;
  }

  #another() {
    const go = make("button", { type: "button", class: "button", onclick: () => this.#reseed() }, "Put it on the bench");
    return make(
      "div",
      { class: "practice__another" },
      make("label", {}, make("span", {}, "Receiver"), this.#receiver),
      make("label", {}, make("span", {}, "Unit (any whole number)"), make("span", { class: "measure" }, this.#seed)),
      go,
      this.#reveal,
      this.#truth,
    );
  }

  async #reseed() {
    const seed = Number(this.#seed.value);
    if (this.#seed.value.trim() === "" || !Number.isInteger(seed) || seed < 0) {
      setText(this.#trouble, "The unit is a whole number, not below 0.");
      return;
    }
    await this.#try(async () => {
      await this.#calls.reseed(seed, this.#receiver.value);
      this.#unit = "";
      this.#show(await this.#calls.read());
    });
  }

  async #showTruth() {
    if (this.#reveal.getAttribute("aria-expanded") === "true") {
      this.#hideTruth();
      return;
    }
    await this.#try(async () => {
      fill(this.#truth, truthList(await this.#calls.truth()));
      this.#reveal.setAttribute("aria-expanded", "true");
      setText(this.#reveal, "Hide the truth");
    });
  }

  #hideTruth() {
    fill(this.#truth);
    this.#reveal.setAttribute("aria-expanded", "false");
    setText(this.#reveal, "Show the truth");
  }

  /** @param {() => Promise<unknown>} act */
  async #try(act) {
    try {
      await act();
      setText(this.#trouble, "");
    } catch (error) {
      setText(this.#trouble, error instanceof Error ? error.message : String(error));
    }
  }
}

/**
 * @param {string} name
 * @param {HTMLElement} content
 */
const fold = (name, content) => make("details", { class: "fold practice__fold" }, make("summary", {}, name), content);
