// Keys that work wherever the focus is. None is a letter, so that typing never triggers one.

/**
 * @typedef {object} Shortcuts
 * @property {() => void} scan
 * @property {() => void} stop
 * @property {() => void} outputOff
 */

/** @param {Shortcuts} actions */
export function listenForShortcuts(actions) {
  document.addEventListener("keydown", (event) => {
    if (event.key === "F8") {
      event.preventDefault();
      actions.outputOff();
      return;
    }
    // Escape first closes an open dialog; only then does it mean the scan.
    if (event.repeat || document.querySelector("dialog[open]") !== null) return;
    if (event.key === "Escape") actions.stop();
    if (event.key === "Enter" && event.ctrlKey) {
      event.preventDefault();
      actions.scan();
    }
  });
}
