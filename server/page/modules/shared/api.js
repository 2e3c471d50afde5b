// Asking the service. Every refusal arrives as one sentence for the person.

/** @typedef {import("./types.js").Bench} Bench */
/** @typedef {import("./types.js").Target} Target */
/** @typedef {import("./types.js").ScanOrder} ScanOrder */
/** @typedef {import("./types.js").ScanSummary} ScanSummary */
/** @typedef {import("./types.js").ScanDocument} ScanDocument */
/** @typedef {string | number} ScanId */

/** The service said no, or did not answer. `status` is 0 where it did not answer. */
export class ServiceError extends Error {
  /**
   * @param {string} sentence
   * @param {number} status
   */
  constructor(sentence, status) {
    super(sentence);
    this.name = "ServiceError";
    this.status = status;
  }
}

/**
 * What the page may ask, bound to this tab's name.
 * @param {string} client
 */
export function createApi(client) {
  /**
   * @param {string} path
   * @returns {Promise<any>}
   */
  const get = (path) => ask(client, path);
  /**
   * @param {string} path
   * @param {object} [body]
   * @param {"POST" | "PATCH"} [method]
   * @returns {Promise<any>}
   */
  const post = (path, body = {}, method = "POST") =>
    ask(client, path, { method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
  /**
   * @param {string} path
   * @param {Blob} content
   * @returns {Promise<any>}
   */
  const send = (path, content) =>
    ask(client, path, {
      method: "POST",
      headers: { "Content-Type": content.type || "application/octet-stream" },
      body: content,
    });

  return {
    get,
    post,
    send,
    /** @param {string} path @returns {Promise<string>} */
    text: async (path) => (await answerOf(client, path)).text(),
    /** @returns {Promise<Target[]>} */
    targets: () => get("/api/targets"),
    /** @returns {Promise<ScanSummary[]>} */
    scans: () => get("/api/scans"),
    /**
     * @param {ScanId} id
     * @returns {Promise<ScanDocument>}
     */
    scan: (id) => get(`/api/scans/${encodeURIComponent(id)}`),
    /**
     * @param {ScanOrder} order
     * @returns {Promise<{id: ScanId}>}
     */
    startScan: (order) => post("/api/scans", order),
    /** @param {number} number @param {string} answer */
    answer: (number, answer) => post("/api/answer", { number, answer }),
    /** @param {"step" | "done" | "cannot"} signal */
    signal: (signal) => post("/api/signal", { signal }),
    stop: () => post("/api/stop"),
    outputOff: () => post("/api/output-off"),
    takeOver: () => post("/api/operator/take"),
    /** @returns {Promise<Bench>} */
    lookAgain: () => post("/api/bench/look"),
  };
}

/** @typedef {ReturnType<typeof createApi>} Api */

/** @param {ScanId} id */
export const csvAddress = (id) => `/api/scans/${encodeURIComponent(id)}/readings.csv`;

/** @param {ScanId} id */
export const jsonAddress = (id) => `/api/scans/${encodeURIComponent(id)}/scan.json`;

/**
 * @param {string} client
 * @param {string} path
 * @param {RequestInit} [options]
 * @returns {Promise<any>}
 */
async function ask(client, path, options = {}) {
  const response = await answerOf(client, path, options);
  return response.json().catch(() => null);
}

/**
 * @param {string} client
 * @param {string} path
 * @param {RequestInit} [options]
 * @returns {Promise<Response>} an answer that is no refusal
 */
async function answerOf(client, path, options = {}) {
  const headers = { ...options.headers, "X-Peakwright-Client": client };
  let response;
  try {
    response = await fetch(path, { ...options, headers, cache: "no-store" });
  } catch {
    throw new ServiceError("The service does not answer; see that it still runs, then try again.", 0);
  }
  if (!response.ok) throw new ServiceError(sentenceOf(await response.json().catch(() => null), response.status), response.status);
  return response;
}

/**
 * @param {any} body
 * @param {number} status
 * @returns {string}
 */
function sentenceOf(body, status) {
  if (typeof body?.error === "string" && body.error !== "") return body.error;
  return `The service refused without saying why (status ${status}).`;
}

/**
 * The sentence of anything that was thrown.
 * @param {unknown} error
 * @returns {string}
 */
export function sentence(error) {
  if (error instanceof ServiceError) return error.message;
  return `The page itself failed: ${error instanceof Error ? error.message : String(error)}. Reload it to go on.`;
}
