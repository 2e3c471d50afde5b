// Telling screen readers, politely and one sentence at a time.

import { byId } from "./dom.js";

export function createAnnouncer() {
  const region = byId("announcer", HTMLElement);
  /**
   * @param {string} sentence
   */
  return (sentence) => {
    // The same sentence twice in a row is not read again unless the region was empty in between.
    region.textContent = "";
    requestAnimationFrame(() => {
      region.textContent = sentence;
    });
  };
}

/** @typedef {ReturnType<typeof createAnnouncer>} Announce */
