// The alarm: the source may be on, and nothing could switch it off yet. In the largest type there is, with a siren.

import { byId, make, setText, symbol } from "../shared/dom.js";
import { Siren } from "./siren.js";

/** @typedef {import("../shared/types.js").OutputAlarm} Alarm */

export class OutputAlarm {
  #announce;
  #siren = new Siren();
  #text = make("p", { class: "output-alarm__text" });
  #silence = make("button", { type: "button", class: "button", onclick: () => this.#hush() }, "Silence the siren");
  #host = make(
    "section",
    { class: "output-alarm", role: "alert", id: "output-alarm" },
    make("h2", { class: "output-alarm__word" }, symbol("output-on"), "Output may be on"),
    this.#text,
    this.#silence,
  );
  #on = false;

  /** @param {import("../shared/announce.js").Announce} announce */
  constructor(announce) {
    this.#announce = announce;
  }

  /** @param {Alarm | null} alarm */
  show(alarm) {
    if (alarm === null) this.#end();
    else this.#begin(alarm);
  }

  /** @param {Alarm} alarm */
  #begin(alarm) {
    setText(this.#text, alarm.text);
    if (this.#on) return;
    this.#on = true;
    this.#silence.hidden = false;
    byId("top", HTMLElement).prepend(this.#host);
    this.#siren.start();
  }

  #end() {
    if (!this.#on) return;
    this.#on = false;
    this.#siren.stop();
    this.#host.remove();
    this.#announce("The source has confirmed that its output is off.");
  }

  #hush() {
    this.#siren.stop();
    this.#silence.hidden = true;
  }
}
