// Who this tab is to the service: a random name, kept through reloads, never shared by two tabs.

const KEY = "peakwright client";

/** How long a page that is being reloaded may take to let go of its name, on a busy machine too. */
const LETS_GO_MS = 3000;

/**
 * Give this tab's name. A duplicated tab copies the name of the first; the lock tells the copy to take a new one.
 * @returns {Promise<string>}
 */
export async function clientName() {
  const kept = recall();
  if (kept !== null && (await claim(kept))) return kept;
  const fresh = randomName();
  await claim(fresh);
  remember(fresh);
  return fresh;
}

/** @returns {string} */
function randomName() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * Hold the name for as long as this tab lives. Waits a moment, since a page being reloaded lets go late.
 * @param {string} name
 * @returns {Promise<boolean>} false where another tab holds it
 */
function claim(name) {
  // Locks exist only where the browser trusts the address; elsewhere two tabs with one name is a lesser evil than none.
  if (!navigator.locks) return Promise.resolve(true);
  return new Promise((resolve) => {
    const forLife = () => {
      resolve(true);
      return new Promise(() => {});
    };
    navigator.locks
      .request(`peakwright ${name}`, { signal: AbortSignal.timeout(LETS_GO_MS) }, forLife)
      .catch(() => resolve(false));
  });
}

/** @returns {string | null} */
function recall() {
  try {
    return sessionStorage.getItem(KEY);
  } catch {
    return null;
  }
}

/** @param {string} name */
function remember(name) {
  try {
    sessionStorage.setItem(KEY, name);
  } catch {
    // A browser that keeps nothing still works; a reload then counts as another page.
  }
}
