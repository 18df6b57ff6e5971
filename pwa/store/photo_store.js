// The photos' part of the phone's store, bytes apart from slips, and the clocks that run for a visit.
// IndexedDB only, in transactions that outbox.js opens under its contract: no screen, no network, no clock of its own.

import { ask } from "./idb.js";

// State of a slip: waiting (to be carried) | held (the desk has it whole, bytes still here) | filed (bytes gone from
// here) | refused (by the desk, `reason` says why) | struck. Bytes leave by `releasePhoto` alone.

/** @param {StoreOf} store @param {string} sha256 @returns {Promise<Slip | undefined>} */
const slipOf = (store, sha256) => ask(store("slips").get(sha256));

/**
 * Within a capture: the bytes and the slip of a photo whose operation is written in the same transaction.
 *
 * @param {StoreOf} store
 * @param {NewPhoto} photo
 */
export async function keepPhoto(store, { sha256, type, bytes, at, thumb, op }) {
  const slip = await slipOf(store, sha256);
  if (slip !== undefined && slip.state !== "struck") return;
  await ask(store("photos").put({ sha256, type, bytes, at }));
  await ask(store("slips").put({ sha256, op, state: "waiting", size: bytes.byteLength, at, thumb }));
}

/**
 * Within a capture: a struck photo that nobody carried yet stays here and is carried no more.
 *
 * @param {StoreOf} store
 * @param {string} sha256
 */
export async function dropStruck(store, sha256) {
  const slip = await slipOf(store, sha256);
  if (slip !== undefined && slip.state === "waiting") await ask(store("slips").put({ ...slip, state: "struck" }));
}

/**
 * Within an erasure: the photos that these operations added go, bytes and small pictures, struck or not.
 *
 * @param {StoreOf} store
 * @param {Line[]} records
 */
export async function erasePhotos(store, records) {
  const ids = new Set(records.map((record) => record.id));
  for (const record of records.filter((one) => one.kind === "photo.add")) {
    const { sha256 } = JSON.parse(record.json).body;
    const slip = await slipOf(store, sha256);
    if (slip === undefined || !ids.has(slip.op)) continue;
    await ask(store("photos").delete(sha256));
    await ask(store("slips").delete(sha256));
  }
}

/** @param {Transaction} read @param {Transaction} write */
export const photoStore = (read, write) => ({
  /** The slips of these photos, in their order; undefined for one that came from elsewhere. @param {string[]} names */
  slips: (names) => read(["slips"], (store) => Promise.all(names.map((name) => slipOf(store, name)))),

  /** @param {Slip["state"]} state */
  slipsIn: async (state) => {
    /** @type {Slip[]} */
    const slips = await read(["slips"], (store) => ask(store("slips").index("state").getAll(state)));
    return slips.sort((one, other) => one.at - other.at);
  },

  // How many photos still have to reach the desk, and how many it would not take.
  photoTally: () =>
    read(["slips"], async (store) => {
      const index = store("slips").index("state");
      const [waiting, refused] = await Promise.all([ask(index.count("waiting")), ask(index.count("refused"))]);
      return { waiting, refused };
    }),

  /** @param {string} sha256 @returns {Promise<Photo | undefined>} */
  photo: (sha256) => read(["photos"], (store) => ask(store("photos").get(sha256))),

  /** @param {string} sha256 @param {Partial<Slip>} change */
  markPhoto: (sha256, change) =>
    write(["slips"], async (store) => {
      const slip = await slipOf(store, sha256);
      if (slip !== undefined) await ask(store("slips").put({ ...slip, ...change }));
    }),

  /**
   * Deletes a photo's bytes if its slip says that the desk holds it and its operation is filed; otherwise nothing.
   *
   * @param {string} sha256
   * @returns whether they went
   */
  releasePhoto: (sha256) =>
    write(["photos", "slips", "ops"], async (store) => {
      const slip = await slipOf(store, sha256);
      if (slip === undefined || slip.state !== "held") return false;
      const op = await ask(store("ops").get(slip.op));
      if (op === undefined || op.state !== "filed") return false;
      await ask(store("photos").delete(sha256));
      await ask(store("slips").put({ ...slip, state: "filed" }));
      return true;
    }),
});

/**
 * What runs for a visit, see visit/timers.js.
 *
 * @param {Transaction} read
 * @param {Transaction} write
 */
export const timerStore = (read, write) => ({
  /** @param {string} visit @returns {Promise<Clocks | undefined>} */
  clocksOf: (visit) => read(["clocks"], (store) => ask(store("clocks").get(visit))),
  /** @returns {Promise<Clocks[]>} */
  allClocks: () => read(["clocks"], (store) => ask(store("clocks").getAll())),
  /** @param {Clocks} clocks */
  keepClocks: (clocks) => write(["clocks"], (store) => ask(store("clocks").put(clocks))),
});
