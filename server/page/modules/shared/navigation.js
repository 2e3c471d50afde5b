// The ways to the parts of the page; which one is in view is told to the eye and to the ear.

import { byId } from "./dom.js";

/** Parts that are reached under a heading of another name. @type {Readonly<Record<string, string>>} */
const UNDER = Object.freeze({ scans: "scan" });

export function createNavigation() {
  const links = [...byId("places", HTMLElement).querySelectorAll("a")];
  return {
    /** @param {string} name the first part of the address */
    mark(name) {
      const here = `#/${UNDER[name] ?? name}`;
      for (const link of links) {
        if (link.getAttribute("href") === here) link.setAttribute("aria-current", "page");
        else link.removeAttribute("aria-current");
      }
    },
  };
}
