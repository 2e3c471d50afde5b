// Asking the service. Every refusal arrives as one sentence for the person.

/** @typedef {import("./types.js").Bench} Bench */
/** @typedef {import("./types.js").Target} Target */
/** @typedef {import("./types.js").ScanOrder} ScanOrder */
/** @typedef {import("./types.js").ScanSummary} ScanSummary */
/** @typedef {import("./types.js").ScanDocument} ScanDocument */
/** @typedef {import("../job/types.js").ReceiverLine} ReceiverLine */
/** @typedef {import("../job/types.js").Step} Step */
/** @typedef {import("../job/types.js").Job} Job */
/** @typedef {import("../job/types.js").JobLine} JobLine */
/** @typedef {import("../job/types.js").JobFields} JobFields */
/** @typedef {import("../job/types.js").HistoryFound} HistoryFound */
/** @typedef {string | number} ScanId */
/** @typedef {string | number} JobId */

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
    ...jobCalls(get, post, send),
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
    /** The run of the step that is on, from its beginning. */
    again: () => post("/api/again"),
    stop: () => post("/api/stop"),
    outputOff: () => post("/api/output-off"),
    takeOver: () => post("/api/operator/take"),
    /** @returns {Promise<Bench>} */
    lookAgain: () => post("/api/bench/look"),
  };
}

/** @typedef {ReturnType<typeof createApi>} Api */

/** @param {JobId} id */
export const jobAddress = (id) => `/api/jobs/${encodeURIComponent(id)}`;

/** @param {string | number} id */
export const photoAddress = (id) => `/api/photos/${encodeURIComponent(id)}`;

/**
 * @param {JobId} job
 * @param {string | null} step null for the job as a whole
 */
const placeAddress = (job, step) =>
  step === null ? jobAddress(job) : `${jobAddress(job)}/steps/${encodeURIComponent(step)}`;

/**
 * @param {string} path
 * @param {Record<string, string | null | undefined>} query what is empty is left out
 */
function asking(path, query) {
  const given = Object.entries(query).flatMap(([name, value]) => (value ? [[name, value]] : []));
  return given.length === 0 ? path : `${path}?${new URLSearchParams(given)}`;
}

/**
 * What may be asked about receivers, jobs and the step that is on.
 * @param {(path: string) => Promise<any>} get
 * @param {(path: string, body?: object, method?: "POST" | "PATCH") => Promise<any>} post
 * @param {(path: string, content: Blob) => Promise<any>} send
 */
function jobCalls(get, post, send) {
  return {
    /** @returns {Promise<ReceiverLine[]>} */
    receivers: () => get("/api/receivers"),
    /** @param {Record<string, string | null | undefined>} [query] @returns {Promise<JobLine[]>} */
    jobs: (query = {}) => get(asking("/api/jobs", query)),
    /** @param {JobId} id @returns {Promise<Job>} */
    job: (id) => get(jobAddress(id)),
    /** @param {JobFields} fields @returns {Promise<{id: JobId}>} */
    newJob: (fields) => post("/api/jobs", fields),
    /** @param {JobId} id @param {JobFields} fields */
    changeJob: (id, fields) => post(jobAddress(id), fields, "PATCH"),
    /**
     * @param {JobId} job @param {string} step @param {{way: string | null, turning: "live" | "counted"}} how
     * @returns {Promise<{told: string | null}>} that the job was taken over, where a program that is gone had it
     */
    beginStep: (job, step, how) => post(`${placeAddress(job, step)}/begin`, how),
    /** @param {JobId} job @param {string} step @param {string} reason */
    leaveStep: (job, step, reason) => post(`${placeAddress(job, step)}/leave`, { reason }),
    /** @param {JobId} job @param {string | null} step @param {string} text */
    remark: (job, step, text) => post(`${placeAddress(job, step)}/remarks`, { text }),
    /** @param {JobId} job @param {string | null} step @param {File} file */
    photo: (job, step, file) => send(asking(`${placeAddress(job, step)}/photos`, { name: file.name }), file),
    /** @param {number} number @param {string} answer */
    answer: (number, answer) => post("/api/answer", { number, answer }),
    /** @param {"step" | "done" | "cannot"} signal */
    signal: (signal) => post("/api/signal", { signal }),
    /** @param {Record<string, string>} query @returns {Promise<HistoryFound>} */
    history: (query) => get(asking("/api/history", query)),
    /** @param {File} file @returns {Promise<{id: JobId}>} */
    importJob: (file) => send("/api/jobs/import", file),
  };
}

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
  const headers = { ...options.headers, "X-Peakwright-Client": client };
  let response;
  try {
    response = await fetch(path, { ...options, headers, cache: "no-store" });
  } catch {
    throw new ServiceError("The service does not answer; see that it still runs, then try again.", 0);
  }
  const body = await response.json().catch(() => null);
  if (!response.ok) throw new ServiceError(sentenceOf(body, response.status), response.status);
  return body;
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
