// What may be asked of the hands of the practice bench.

import { ask } from "../shared/api.js";

/**
 * @param {string} client this tab's name
 * @returns {import("./types.js").PracticeCalls}
 */
export function practiceCalls(client) {
  /**
   * @param {string} what
   * @param {object} body
   */
  const post = (what, body) =>
    ask(client, `/api/practice/${what}`, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(body),
    });
  return {
    read: () => ask(client, "/api/practice"),
    turn: (adjuster, turns) => post("turn", { adjuster, turns }),
    set: (control, to) => post("set", { control, to }),
    connect: (role, to, through) => post("connect", { role, to, through }),
    doIt: (number) => post("do", { number }),
    truth: () => ask(client, "/api/practice/truth"),
    reseed: (seed, receiverId) => post("reseed", { seed, receiver_id: receiverId }),
  };
}
