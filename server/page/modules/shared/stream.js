// The live stream of one tab: what the bench and the run do, as it happens.

/** @typedef {import("./types.js").LiveItem} LiveItem */

/**
 * @typedef {object} LiveListener
 * @property {(items: LiveItem[]) => void} onItems in order; some may come twice after a break
 * @property {() => void} onOpen each time the stream stands, the first time included
 * @property {() => void} onLost each time it breaks
 */

const RETRY_MS = 1000;

/** How often the time is looked at, and from what gap on this machine must have been asleep. */
const LOOK_MS = 5000;
const ASLEEP_MS = 20_000;

/**
 * Open the stream and keep it open until `sleep` is called.
 *
 * The browser reconnects by itself after a break and names the last event it saw, so nothing is missed. It gives up for
 * good where the answer is a refusal (a service that is starting, say); then a new stream is opened here.
 * @param {string} client
 * @param {LiveListener} listener
 */
export function openLive(client, listener) {
  const address = `/api/live?client=${encodeURIComponent(client)}`;
  /** @type {EventSource | null} */
  let source = null;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let retry;

  const connect = () => {
    source?.close();
    source = new EventSource(address);
    source.onopen = listener.onOpen;
    source.onmessage = (message) => listener.onItems(itemsOf(message.data));
    source.onerror = () => {
      listener.onLost();
      if (source?.readyState === EventSource.CLOSED) {
        clearTimeout(retry);
        retry = setTimeout(connect, RETRY_MS);
      }
    };
  };

  connect();
  afterSleep(connect);
  return {
    /** See that the stream stands, at once: the network is back, or the tab is in view again. */
    wake: () => {
      if (source?.readyState === EventSource.OPEN) return;
      clearTimeout(retry);
      connect();
    },
    /** Give the stream back until `wake`. */
    sleep: () => {
      clearTimeout(retry);
      source?.close();
      source = null;
    },
  };
}

/**
 * Call back when the machine has been asleep: the stream may look open and be dead. Timers of a hidden tab are slow
 * anyway, and tell nothing.
 * @param {() => void} onAwake
 */
function afterSleep(onAwake) {
  let last = Date.now();
  setInterval(() => {
    const gap = Date.now() - last;
    last = Date.now();
    if (gap > ASLEEP_MS && document.visibilityState === "visible") onAwake();
  }, LOOK_MS);
}

/** @typedef {ReturnType<typeof openLive>} Live */

/**
 * @param {string} data
 * @returns {LiveItem[]}
 */
function itemsOf(data) {
  const parsed = JSON.parse(data);
  return Array.isArray(parsed) ? parsed : [parsed];
}
