// Choosing the receiver and the target, and the hookup that goes with it: cautions first.

import { cautionList } from "../shared/cautions.js";
import { byId, fill, make } from "../shared/dom.js";
import { capital, inWords } from "../shared/words.js";

/** @typedef {import("../shared/types.js").Target} Target */

export class TargetChoice {
  #receiver = byId("receiver", HTMLSelectElement);
  #target = byId("target", HTMLSelectElement);
  #state = byId("targets-state", HTMLElement);
  /** @type {Target[]} */
  #targets = [];
  #onChoose;

  /** @param {(target: Target) => void} onChoose */
  constructor(onChoose) {
    this.#onChoose = onChoose;
    this.#receiver.addEventListener("change", () => {
      this.#listTargets();
      this.#announce();
    });
    this.#target.addEventListener("change", () => this.#announce());
  }

  get chosen() {
    return this.find(this.#target.value);
  }

  /** @param {string} id */
  find(id) {
    return this.#targets.find((each) => each.id === id) ?? null;
  }

  /**
   * Offer these targets. A choice made before stands, and with it what was typed for it.
   * @param {Target[]} list
   */
  show(list) {
    const before = this.chosen;
    this.#targets = list;
    const receivers = [...new Set(list.map((each) => each.receiver))];
    fill(this.#receiver, ...receivers.map((name) => make("option", { value: name }, name)));
    this.#receiver.disabled = this.#target.disabled = list.length === 0;
    this.#state.textContent = list.length === 0 ? "The service knows no receiver; add a receiver file and restart it." : "";
    const still = before === null ? null : this.find(before.id);
    if (still !== null) this.#select(still);
    else {
      this.#listTargets();
      this.#announce();
    }
  }

  /** @param {string} sentence */
  fail(sentence) {
    this.#state.textContent = `The receivers are not known yet. ${sentence}`;
  }

  /**
   * Choose a target by its id, where it is known.
   * @param {string} id
   */
  choose(id) {
    const wanted = this.find(id);
    if (wanted === null) return;
    this.#select(wanted);
    this.#announce();
  }

  /** @param {Target} target */
  #select(target) {
    this.#receiver.value = target.receiver;
    this.#listTargets();
    this.#target.value = target.id;
    showHookup(target);
  }

  #listTargets() {
    const of = this.#targets.filter((each) => each.receiver === this.#receiver.value);
    fill(this.#target, ...of.map(({ id, name }) => make("option", { value: id }, capital(name))));
  }

  #announce() {
    const choice = this.chosen;
    showHookup(choice);
    // Folded away once read, it opens again for another hookup.
    byId("hookup", HTMLDetailsElement).open = true;
    if (choice !== null) this.#onChoose(choice);
  }
}

/** @param {Target | null} target */
function showHookup(target) {
  byId("hookup", HTMLElement).hidden = target === null;
  if (target === null) return;
  fill(byId("cautions", HTMLElement), cautionList(target.cautions));
  fill(byId("leads", HTMLElement), ...leads(target));
}

/**
 * @param {Target} target
 * @returns {HTMLElement[]}
 */
function leads({ hookup }) {
  const controls = Object.entries(hookup.controls ?? {});
  const rows = [
    hookup.source_to && row("Source to", hookup.source_to, hookup.source_through && `through ${hookup.source_through}`),
    hookup.meter_to && row("Meter to", hookup.meter_to, null),
    controls.length > 0 && make("div", { class: "leads__row" }, make("dt", {}, "Controls"), make("dd", {}, controlList(controls))),
  ];
  return rows.filter((each) => each instanceof HTMLElement);
}

/**
 * @param {string} name
 * @param {string} point
 * @param {string | null | ""} through
 */
function row(name, point, through) {
  const way = through && make("span", { class: "leads__way" }, through);
  return make("div", { class: "leads__row" }, make("dt", {}, name), make("dd", {}, make("strong", {}, point), way));
}

/** @param {[string, string | number][]} controls */
function controlList(controls) {
  const item = (/** @type {[string, string | number]} */ [name, value]) =>
    make("li", {}, `${inWords(name)} `, make("strong", {}, String(value)));
  return make("ul", { class: "controls" }, ...controls.map(item));
}
