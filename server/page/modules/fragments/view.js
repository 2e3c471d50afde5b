// What is in view, as the service sends it: read when the place changes, and again whenever something has changed.

import { ServiceError, sentence } from "../shared/api.js";
import { byId, setText } from "../shared/dom.js";
import { readPlace } from "../shared/router.js";
import { morph } from "./morph.js";

export class FragmentView {
  host = byId("jobs-page", HTMLElement);
  title = "";
  #context;
  #body = byId("place", HTMLElement);
  #state = byId("place-state", HTMLElement);
  /** The place whose content stands there. */
  #shown = "";
  #reading = false;
  #again = false;
  #inFront = false;
  #headingDue = false;

  #onDrawn;

  /**
   * @param {import("../page.js").Context} context
   * @param {(body: HTMLElement) => void} onDrawn
   */
  constructor(context, onDrawn) {
    this.#context = context;
    this.#onDrawn = onDrawn;
  }

  /**
   * @param {import("../shared/router.js").Place} _place
   * @param {boolean} moved
   */
  show(_place, moved) {
    this.#inFront = true;
    this.#headingDue = moved;
    this.refresh();
  }

  hide() {
    this.#inFront = false;
    this.#shown = "";
    this.#body.replaceChildren();
    this.#onDrawn(this.#body);
  }

  bench() {
    this.refresh();
  }

  situation() {}

  take() {}

  async reread() {
    await this.refresh();
  }

  /** Read again what is in view; what is asked for meanwhile is read once more, and only once. */
  async refresh() {
    if (!this.#inFront) return;
    this.#again = true;
    if (this.#reading) return;
    this.#reading = true;
    while (this.#again) {
      this.#again = false;
      await this.#read();
    }
    this.#reading = false;
  }

  async #read() {
    const { path, query } = readPlace();
    const place = (path.length === 0 ? ["jobs"] : path).map(encodeURIComponent).join("/");
    const isSame = place === this.#shown;
    try {
      const html = await this.#context.api.text(`/fragments/${place}?${new URLSearchParams({ ...query, ...(isSame ? this.#asked() : {}) })}`);
      if (readPlace().path.join("/") === path.join("/")) this.#draw(html, place);
    } catch (error) {
      if (!isSame && error instanceof ServiceError && error.status === 404) this.#body.replaceChildren();
      setText(this.#state, isSame ? `What is shown is not up to date. ${sentence(error)}` : sentence(error));
    }
  }

  /** What is chosen in view and no part of the address. */
  #asked() {
    const chosen = [...this.#body.querySelectorAll("[data-ask]")].filter((each) => !each.matches("input[type=radio]:not(:checked)"));
    return Object.fromEntries(chosen.map((each) => [each.getAttribute("data-ask") ?? "", Reflect.get(each, "value")]));
  }

  /**
   * @param {string} html
   * @param {string} place
   */
  #draw(html, place) {
    const next = new DOMParser().parseFromString(html, "text/html").body;
    if (place !== this.#shown) this.#body.replaceChildren();
    this.#shown = place;
    next.id = this.#body.id;
    const isNarrow = !matchMedia("(min-width: 62rem)").matches;
    if (isNarrow) for (const fold of next.querySelectorAll("[data-folds-when-narrow]")) fold.removeAttribute("open");
    morph(this.#body, next);
    this.#onDrawn(this.#body);
    setText(this.#state, "");
    this.title = this.#body.dataset.title ?? "";
    document.title = `${this.title} · Peakwright`;
    this.#focusHeading();
  }

  #focusHeading() {
    const heading = this.#body.querySelector("h1");
    if (!this.#headingDue || heading === null) return;
    this.#headingDue = false;
    if (document.activeElement !== null && document.activeElement !== document.body) return;
    heading.tabIndex = -1;
    heading.focus({ preventScroll: true });
  }
}
