// What may be asked of the hands of the practice bench.

/**
 * @param {Pick<import("../shared/api.js").Api, "get" | "post">} api
 * @returns {import("./types.js").PracticeCalls}
 */
export const practiceCalls = ({ get, post }) => ({
  read: () => get("/api/practice"),
  turn: (adjuster, turns) => post("/api/practice/turn", { adjuster, turns }),
  set: (control, to) => post("/api/practice/set", { control, to }),
  connect: (role, to, through) => post("/api/practice/connect", { role, to, through }),
  doIt: (number) => post("/api/practice/do", { number }),
  truth: () => get("/api/practice/truth"),
  reseed: (seed, receiverId) => post("/api/practice/reseed", { seed, receiver_id: receiverId }),
});
