// How high the strip at the top stands, told to the style sheets: what scrolls must not hide under it.

import { byId } from "./dom.js";

export function watchStripHeight() {
  const top = byId("top", HTMLElement);
  const tell = () => document.documentElement.style.setProperty("--top", `${top.offsetHeight}px`);
  new ResizeObserver(tell).observe(top);
}
