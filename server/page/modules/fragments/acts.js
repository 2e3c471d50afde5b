// What is pressed, sent and chosen in a part that came from the service. The part itself says what it does: by
// data-post (and data-method, data-body), data-upload, data-place, data-ask, data-opens.

import { ServiceError, sentence } from "../shared/api.js";
import { addressOf } from "../shared/router.js";
import { fieldsOf, readFields } from "./fields.js";

/**
 * @typedef {object} Actor
 * @property {import("../shared/api.js").Api} api
 * @property {import("../shared/announce.js").Announce} announce
 * @property {(text: string) => void} refuse say across the page that something was refused
 * @property {() => Promise<void>} refresh read again what is in view
 */

/** @param {Actor} actor */
export function listenForActs(actor) {
  document.addEventListener("click", (event) => pressed(actor, event));
  document.addEventListener("submit", (event) => submitted(actor, event));
  document.addEventListener("reset", (event) => wasReset(event));
  document.addEventListener("change", (event) => changed(actor, event));
}

/**
 * @param {Actor} actor
 * @param {Event} event
 */
function pressed(actor, { target }) {
  const button = target instanceof Element ? target.closest("button") : null;
  if (button === null || button.getAttribute("aria-disabled") === "true") return;
  const { opens, post, body = "{}" } = button.dataset;
  if (opens !== undefined) openDialog(opens);
  if ("closes" in button.dataset) button.closest("dialog")?.close();
  if (post !== undefined) send(actor, button, JSON.parse(body));
}

/** @param {string} id */
function openDialog(id) {
  const dialog = document.getElementById(id);
  if (!(dialog instanceof HTMLDialogElement)) return;
  dialog.querySelector("form")?.reset();
  dialog.showModal();
}

/**
 * @param {Actor} actor
 * @param {SubmitEvent} event
 */
function submitted(actor, event) {
  const form = event.target;
  if (!(form instanceof HTMLFormElement)) return;
  const { post, place } = form.dataset;
  if (post === undefined && place === undefined) return;
  event.preventDefault();
  if (place !== undefined) return go(form, place, null);
  tellTrouble(form, "");
  const body = readFields(form);
  if (body !== null && event.submitter?.getAttribute("aria-disabled") !== "true") send(actor, form, body);
}

/** @param {Event} event */
function wasReset({ target }) {
  if (target instanceof HTMLFormElement && target.dataset.place !== undefined) location.hash = `#/${target.dataset.place}`;
}

/**
 * @param {Actor} actor
 * @param {Event} event
 */
function changed(actor, { target }) {
  if (!(target instanceof HTMLElement)) return;
  const { upload: path, ask } = target.dataset;
  const form = target.closest("form");
  if (target instanceof HTMLInputElement && path !== undefined) upload(actor, target, path);
  else if (ask !== undefined) actor.refresh();
  else if (form?.dataset.place !== undefined) go(form, form.dataset.place, target);
}

/**
 * Show the place that a form's fields ask for.
 * @param {HTMLFormElement} form
 * @param {string} place
 * @param {HTMLElement | null} changed a field that begins all others anew stands alone
 */
function go(form, place, changed) {
  const alone = changed !== null && "alone" in changed.dataset;
  const fields = fieldsOf(form).filter((each) => !alone || each === changed);
  location.hash = addressOf(place.split("/"), Object.fromEntries(fields.map(({ name, value }) => [name, value.trim()])));
}

/**
 * @param {Actor} actor
 * @param {HTMLFormElement | HTMLButtonElement} from
 * @param {object} body
 */
async function send(actor, from, body) {
  const { post = "", method = "POST", said, then } = from.dataset;
  try {
    const answer = await actor.api.post(post, body, /** @type {"POST" | "PATCH"} */ (method));
    tellTrouble(from, "");
    if (from instanceof HTMLFormElement) for (const each of fieldsOf(from)) if ("once" in each.dataset) each.value = "";
    from.closest("dialog")?.close();
    if (said !== undefined) actor.announce(said);
    from.dispatchEvent(new CustomEvent("sent", { bubbles: true, detail: answer }));
    if (then === undefined) await actor.refresh();
    else location.hash = then.replace("{id}", encodeURIComponent(answer.id));
  } catch (error) {
    if (!tellTrouble(from, sentence(error))) actor.refuse(sentence(error));
  }
}

/**
 * @param {Actor} actor
 * @param {HTMLInputElement} input
 * @param {string} path
 */
async function upload(actor, input, path) {
  const told = document.getElementById(input.dataset.told ?? "");
  tellTrouble(input, "");
  for (const file of [...(input.files ?? [])]) {
    try {
      const { id } = await actor.api.send(addressed(path, file.name), file);
      if (input.dataset.said !== undefined) actor.announce(input.dataset.said);
      if (told !== null) told.replaceChildren(`${file.name} is in the record now as `, link(`#/jobs/${id}`, `job ${id}`), ".");
    } catch (error) {
      if (!(error instanceof ServiceError)) throw error;
      if (told !== null) told.textContent = `${file.name} was not brought in. ${sentence(error)}`;
      else tellTrouble(input, sentence(error));
    }
  }
  input.value = "";
  await actor.refresh();
}

/**
 * @param {string} path
 * @param {string} name
 */
const addressed = (path, name) => `${path}?${new URLSearchParams({ name })}`;

/**
 * @param {string} href
 * @param {string} text
 */
function link(href, text) {
  const made = document.createElement("a");
  made.href = href;
  made.textContent = text;
  return made;
}

/**
 * @param {HTMLElement} from
 * @param {string} text
 * @returns {boolean} whether there is a place beside it for this
 */
function tellTrouble(from, text) {
  const place = document.getElementById(from.dataset.trouble ?? "");
  if (place !== null) place.textContent = text;
  return place !== null;
}
