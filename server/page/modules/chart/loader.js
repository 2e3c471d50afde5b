// Fetching the charting library, once, after the page can already be read and used.

const SCRIPTS = ["/static/bokeh/bokeh.min.js", "/static/bokeh/bokeh-api.min.js"];

/**
 * Load the charting library. The scripts put it on the window; nothing else here looks for it there.
 * @returns {Promise<any>} the library
 * @throws {Error} where a script cannot be had
 */
export async function loadCharting() {
  await afterFirstPaint();
  for (const address of SCRIPTS) await addScript(address);
  return Reflect.get(globalThis, "Bokeh");
}

/** @returns {Promise<void>} */
function afterFirstPaint() {
  return new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve, 0)));
}

/**
 * @param {string} address
 * @returns {Promise<void>}
 */
function addScript(address) {
  return new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = address;
    script.onload = () => resolve();
    script.onerror = () => reject(new Error(`${address} could not be fetched`));
    document.head.append(script);
  });
}
