// The photos' part of the phone's store, bytes apart from slips, and the clocks that run for a visit.
// IndexedDB only, in transactions that outbox.js opens under its contract: no screen, no network, no clock of its own.

import { ask } from "./outbox.js";

// A photo is {sha256, type, bytes (ArrayBuffer), at}; its slip {sha256, op, state, size, at, thumb, held_at, checked_at,
// reason}. state: waiting (to be carried) | held (the desk has it whole, bytes still here) | filed (bytes gone from
// here) | refused (by the desk, `reason` says why) | struck. Bytes leave by `releasePhoto` alone.

// Within a capture: the bytes and the slip of a photo whose operation is written in the same transaction.
export async function keepPhoto(store, { sha256, type, bytes, at, thumb, op }) {
  const slip = await ask(store("slips").get(sha256));
  if (slip !== undefined && slip.state !== "struck") return;
  await ask(store("photos").put({ sha256, type, bytes, at }));
  await ask(store("slips").put({ sha256, op, state: "waiting", size: bytes.byteLength, at, thumb }));
}

// Within a capture: a struck photo that nobody carried yet stays here and is carried no more.
export async function dropStruck(store, sha256) {
  const slip = await ask(store("slips").get(sha256));
  if (slip !== undefined && slip.state === "waiting") await ask(store("slips").put({ ...slip, state: "struck" }));
}

// Within an erasure: the photos that these operations added go, bytes and small pictures, struck or not.
export async function erasePhotos(store, records) {
  const gone = new Set(records.map((record) => record.id));
  for (const record of records.filter((one) => one.kind === "photo.add")) {
    const { sha256 } = JSON.parse(record.json).body;
    const slip = await ask(store("slips").get(sha256));
    if (slip === undefined || !gone.has(slip.op)) continue;
    await ask(store("photos").delete(sha256));
    await ask(store("slips").delete(sha256));
  }
}

export function keepingPhotos(read, write) {
  return {
    // The slips of these photos, in their order; undefined for one that came from elsewhere.
    slips: (names) => read(["slips"], (store) => Promise.all(names.map((name) => ask(store("slips").get(name))))),

    slipsIn: async (state) => {
      const found = await read(["slips"], (store) => ask(store("slips").index("state").getAll(state)));
      return found.sort((one, other) => one.at - other.at);
    },

    // {waiting, refused}: how many photos still have to reach the desk, and how many it would not take.
    photoTally: () =>
      read(["slips"], async (store) => {
        const [waiting, refused] = await Promise.all(["waiting", "refused"].map((state) => ask(store("slips").index("state").count(state))));
        return { waiting, refused };
      }),

    photo: (sha256) => read(["photos"], (store) => ask(store("photos").get(sha256))),

    markPhoto: (sha256, change) =>
      write(["slips"], async (store) => {
        const slip = await ask(store("slips").get(sha256));
        if (slip !== undefined) await ask(store("slips").put({ ...slip, ...change }));
      }),

    // Lets go of a photo's bytes, where its slip says that the desk holds it and its operation is filed; else nothing.
    releasePhoto: (sha256) =>
      write(["photos", "slips", "ops"], async (store) => {
        const slip = await ask(store("slips").get(sha256));
        const op = slip === undefined ? undefined : await ask(store("ops").get(slip.op));
        if (op === undefined || op.state !== "filed" || slip.state !== "held") return false;
        await ask(store("photos").delete(sha256));
        await ask(store("slips").put({ ...slip, state: "filed" }));
        return true;
      }),
  };
}

// What runs for a visit, as instants: {visit, clocks, taps, seen}, see timers.js.
export function keepingClocks(read, write) {
  return {
    clocksOf: (visit) => read(["clocks"], (store) => ask(store("clocks").get(visit))),
    allClocks: () => read(["clocks"], (store) => ask(store("clocks").getAll())),
    keepClocks: (kept) => write(["clocks"], (store) => ask(store("clocks").put(kept))),
  };
}
