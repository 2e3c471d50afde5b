// Choosing the receiver and the target, and the hookup that goes with it: cautions first.

import { byId, fill, make, symbol } from "./dom.js";
import { capital } from "./words.js";

/** @typedef {import("./types.js").Target} Target */

/**
 * @param {(target: Target) => void} onChoose
 */
export function createTargetChoice(onChoose) {
  const receiver = byId("receiver", HTMLSelectElement);
  const target = byId("target", HTMLSelectElement);
  const state = byId("targets-state", HTMLElement);
  /** @type {Target[]} */
  let targets = [];

  const chosen = () => targets.find(({ id }) => id === target.value) ?? null;

  const announce = () => {
    const choice = chosen();
    showHookup(choice);
    // Folded away once read, it opens again for another hookup.
    byId("hookup", HTMLDetailsElement).open = true;
    if (choice !== null) onChoose(choice);
  };

  const listTargets = () => {
    const of = targets.filter((each) => each.receiver === receiver.value);
    fill(target, ...of.map(({ id, name }) => make("option", { value: id }, capital(name))));
  };

  receiver.addEventListener("change", () => {
    listTargets();
    announce();
  });
  target.addEventListener("change", announce);

  return {
    chosen,
    /**
     * Offer these targets. A choice made before stands, and with it what was typed for it.
     * @param {Target[]} list
     */
    show(list) {
      const before = chosen();
      targets = list;
      const receivers = [...new Set(list.map((each) => each.receiver))];
      fill(receiver, ...receivers.map((name) => make("option", { value: name }, name)));
      receiver.disabled = target.disabled = list.length === 0;
      state.textContent = list.length === 0 ? "The service knows no receiver; add a receiver file and restart it." : "";
      listTargets();
      const still = targets.find(({ id }) => id === before?.id);
      if (still === undefined) {
        announce();
        return;
      }
      receiver.value = still.receiver;
      listTargets();
      target.value = still.id;
      showHookup(still);
    },
    /** @param {string} sentence */
    fail(sentence) {
      state.textContent = `The receivers are not known yet. ${sentence}`;
    },
    /**
     * Choose a target by its id, where it is known.
     * @param {string} id
     */
    choose(id) {
      const wanted = targets.find((each) => each.id === id);
      if (wanted === undefined) return;
      receiver.value = wanted.receiver;
      listTargets();
      target.value = id;
      announce();
    },
    /** @param {string} id */
    find: (id) => targets.find((each) => each.id === id) ?? null,
  };
}

/** @typedef {ReturnType<typeof createTargetChoice>} TargetChoice */

/** @param {Target | null} target */
function showHookup(target) {
  byId("hookup", HTMLElement).hidden = target === null;
  if (target === null) return;
  fill(byId("cautions", HTMLElement), target.cautions.length > 0 && cautionList(target.cautions));
  fill(byId("leads", HTMLElement), ...leads(target));
}

/** @param {string[]} cautions */
function cautionList(cautions) {
  return make(
    "div",
    { class: "cautions" },
    make("p", { class: "cautions__word" }, symbol("caution"), cautions.length === 1 ? "Caution" : "Cautions"),
    make("ul", {}, ...cautions.map((caution) => make("li", {}, caution))),
  );
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
    make("li", {}, `${name} `, make("strong", {}, String(value)));
  return make("ul", { class: "controls" }, ...controls.map(item));
}
