// Sentences that concern the whole page: a lost service, another operator, the bench's last error.

import { byId, make, symbol } from "./dom.js";

/** @typedef {"connection" | "operator" | "bench" | "run"} BannerName */

/**
 * @typedef {object} BannerContent
 * @property {string} symbol
 * @property {string} text
 * @property {"calm" | "grave"} tone
 * @property {{label: string, act: () => void} | undefined} [button]
 */

export function createBanners() {
  const urgent = byId("urgent", HTMLElement);
  const calm = byId("banners", HTMLElement);
  /** @type {Map<BannerName, {key: string, element: HTMLElement}>} */
  const shown = new Map();

  /** @param {BannerName} name */
  const clear = (name) => {
    shown.get(name)?.element.remove();
    shown.delete(name);
  };

  return {
    clear,
    /**
     * Show a banner, in place of an earlier one of that name.
     * @param {BannerName} name
     * @param {BannerContent} content
     */
    show(name, content) {
      const key = [content.tone, content.text, content.button?.label].join("\n");
      if (shown.get(name)?.key === key) return;
      clear(name);
      const element = banner(content);
      // Only what an instrument said may scroll away; whose bench it is, and whether it answers, stays in sight.
      (name === "bench" ? calm : urgent).append(element);
      shown.set(name, { key, element });
    },
  };
}

/** @param {BannerContent} content */
function banner({ symbol: picture, text, tone, button }) {
  return make(
    "div",
    { class: `banner banner--${tone}`, role: tone === "grave" ? "alert" : "status" },
    symbol(picture),
    make("p", {}, text),
    button && make("button", { type: "button", class: "button", onclick: button.act }, button.label),
  );
}
