// The phone's own store: drafts, operations with their state, the view of each visit, and what the phone remembers.
// IndexedDB only: no screen, no network, no judgement of what is kept. Photos and timers, cards, and what others did
// have their parts in the files beside this one.

import { cardStore } from "./card_store.js";
import { ask, openDatabase, OutboxFault } from "./idb.js";
import { inboxStore, isErased, ownKey } from "./inbox_store.js";
import { dropStruck, keepPhoto, photoStore, timerStore } from "./photo_store.js";

/**
 * One entry per database version; once phones have it, an entry is never edited, only followed by another.
 *
 * @type {Upgrade[]}
 */
export const UPGRADES = [
  (database) => {
    const ops = database.createObjectStore("ops", { keyPath: "id" });
    ops.createIndex("visit", "visit");
    ops.createIndex("state_seq", ["state", "seq"]);
    ops.createIndex("seq", "seq");
    database.createObjectStore("drafts", { keyPath: "visit" });
    database.createObjectStore("visits", { keyPath: "id" });
    database.createObjectStore("meta");
  },
  (database) => {
    database.createObjectStore("photos", { keyPath: "sha256" });
    database.createObjectStore("slips", { keyPath: "sha256" }).createIndex("state", "state");
    database.createObjectStore("clocks", { keyPath: "visit" });
  },
];

/**
 * Opens the store. Every write method keeps this contract:
 * - it is ONE transaction with `durability: "strict"`;
 * - its promise resolves at the transaction's `complete`, never at a request's `success`;
 * - it rejects with an OutboxFault when the transaction aborts, and then nothing of it was kept;
 * - a dropped connection is reopened and the whole transaction tried once more.
 *
 * @param {{name?: string, upgrades?: Upgrade[]}} [options]
 */
export function openOutbox({ name = "layby", upgrades = UPGRADES } = {}) {
  const { read, write, close } = openDatabase(name, upgrades);
  return {
    ...memoryStore(read, write),
    ...captureStore(read, write),
    ...filingStore(read, write),
    ...photoStore(read, write),
    ...timerStore(read, write),
    ...cardStore(read, write),
    ...inboxStore(read, write),
    close,
  };
}

/**
 * What the phone remembers: device id, settings, when it last reached the desk.
 *
 * @param {Transaction} read
 * @param {Transaction} write
 */
const memoryStore = (read, write) => ({
  /** @param {string} key @returns {Promise<any>} */
  recall: (key) => read(["meta"], (store) => ask(store("meta").get(key))),

  /** @param {string} key @param {unknown} value */
  remember: (key, value) => write(["meta"], (store) => ask(store("meta").put(value, key))),

  /**
   * What the phone remembers of its own about a visit, and which goes with it.
   *
   * @param {string} id
   * @returns {Promise<any>}
   */
  recallOf: (id) => read(["meta"], (store) => ask(store("meta").get(ownKey(id)))),

  /** @param {string} id @param {unknown} value */
  rememberOf: (id, value) => write(["meta"], (store) => ask(store("meta").put(value, ownKey(id)))),

  /**
   * Keeps what `change` makes of the value under `key`; nothing comes between reading and keeping it.
   *
   * @param {string} key
   * @param {(value: any) => unknown} change
   */
  amend: (key, change) =>
    write(["meta"], async (store) => {
      const value = await ask(store("meta").get(key));
      await ask(store("meta").put(change(value), key));
    }),

  /**
   * The value kept under `key`, or `make()` kept there now; two tabs get the same one.
   *
   * @template T
   * @param {string} key
   * @param {() => T} make
   * @returns {Promise<T>}
   */
  recallOrMake: (key, make) =>
    write(["meta"], async (store) => {
      const value = await ask(store("meta").get(key));
      if (value !== undefined) return value;
      const fresh = make();
      await ask(store("meta").put(fresh, key));
      return fresh;
    }),
});

/**
 * Drafts, and the step from a draft to operations.
 *
 * @param {Transaction} read
 * @param {Transaction} write
 */
const captureStore = (read, write) => ({
  /** @param {string} visit @returns {Promise<Draft | undefined>} */
  draft: (visit) => read(["drafts"], (store) => ask(store("drafts").get(visit))),
  /** @returns {Promise<Draft[]>} */
  drafts: () => read(["drafts"], (store) => ask(store("drafts").getAll())),
  /** @param {Draft} draft */
  keepDraft: (draft) => write(["drafts"], (store) => ask(store("drafts").put(draft))),
  /** @param {string} visit */
  dropDraft: (visit) => write(["drafts"], (store) => ask(store("drafts").delete(visit))),

  /** @returns {Promise<VisitView[]>} */
  visits: () => read(["visits"], (store) => ask(store("visits").getAll())),
  /** @param {string} id @returns {Promise<VisitView | undefined>} */
  view: (id) => read(["visits"], (store) => ask(store("visits").get(id))),

  /** The operations of one visit, in the order they were made. @param {string} visit @returns {Promise<KeptLine[]>} */
  opsOf: async (visit) => {
    /** @type {KeptLine[]} */
    const records = await read(["ops"], (store) => ask(store("ops").index("visit").getAll(visit)));
    return records.sort((one, other) => one.seq - other.seq || (one.id < other.id ? -1 : 1));
  },

  /** Every operation of this phone's own, in the order they were made. @returns {Promise<KeptLine[]>} */
  everyOp: async () => {
    /** @type {KeptLine[]} */
    const records = await read(["ops"], (store) => ask(store("ops").index("seq").getAll()));
    return records.filter((op) => op.state !== "theirs");
  },

  /** @returns {Promise<number>} */
  lastSeq: () => read(["meta"], async (store) => (await ask(store("meta").get("seq"))) ?? 0),

  /**
   * Keeps operations, the view they change and the draft that is left, all or nothing; with them the bytes of the
   * photos they add, and a mark on those they strike.
   *
   * @param {Captured} captured if another tab wrote meanwhile, it rejects with `order_taken`
   */
  capture: ({ after, records, view, draft, photos = [], struck = [] }) =>
    write(["ops", "drafts", "visits", "meta", ...albumStores(photos, struck)], async (store) => {
      const last = (await ask(store("meta").get("seq"))) ?? 0;
      if (last !== after) throw new OutboxFault("order_taken");
      for (const record of records) {
        await ask(store("ops").add({ ...record, state: "waiting", faults: [] }));
        if (record.replaces !== undefined) await markMended(store, record.replaces);
      }
      for (const photo of photos) await keepPhoto(store, photo);
      for (const sha256 of struck) await dropStruck(store, sha256);
      const before = await ask(store("visits").get(view.id));
      const tally = { waiting: 0, filed: 0, refused: 0, ...(before === undefined ? {} : before.tally) };
      tally.waiting += records.length;
      tally.refused -= records.filter((record) => record.replaces !== undefined).length;
      await ask(store("visits").put({ ...before, ...view, tally }));
      if (draft === null) await ask(store("drafts").delete(view.id));
      else await ask(store("drafts").put(draft));
      await ask(store("meta").put(after + records.length, "seq"));
    }),
});

/** @param {NewPhoto[]} photos @param {string[]} struck @returns {StoreName[]} */
const albumStores = (photos, struck) => (photos.length + struck.length > 0 ? ["photos", "slips"] : []);

/** @param {StoreOf} store @param {string} id */
async function markMended(store, id) {
  const refused = await ask(store("ops").get(id));
  if (refused === undefined || refused.state !== "refused") throw new OutboxFault("order_taken");
  await ask(store("ops").put({ ...refused, state: "mended" }));
}

/** @type {Record<Result["status"], LineState>} */
const STATE_OF_RESULT = { accepted: "filed", conflict: "filed", rejected: "refused", deferred: "deferred" };

/**
 * A line that was damaged on its way says nothing against the entry kept here: its sound copy goes again.
 *
 * @param {Result} result
 * @returns {LineState | undefined} nothing for an answer that this phone does not know
 */
const stateOf = (result) => (result.problem?.code === "damaged" ? "waiting" : STATE_OF_RESULT[result.status]);

/** Where a visit's tally counts a state. @param {LineState} state */
const counted = (state) => /** @type {keyof Tally} */ (state === "deferred" ? "waiting" : state);

/**
 * @param {StoreOf} store
 * @param {KeptLine} op
 * @param {Pick<KeptLine, "state" | "faults" | "conflict">} change
 */
async function moveTo(store, op, change) {
  const view = op.visit === null ? undefined : await ask(store("visits").get(op.visit));
  const from = counted(op.state);
  const to = counted(change.state);
  // Entries filed earlier alternate between accepted and waiting; that says nothing about erasure.
  const erasure = isErased({ ...op, ...change });
  const erased = erasure || (view?.erased === true && !isErased(op));
  if (view !== undefined && (from !== to || erased !== (view.erased ?? false))) {
    const tally = { ...view.tally };
    tally[from] -= 1;
    tally[to] += 1;
    await ask(store("visits").put({ ...view, tally, erased }));
  }
  await ask(store("ops").put({ ...op, ...change }));
}

/**
 * @param {StoreOf} store
 * @param {number} after
 * @param {number} upTo
 * @param {Result[]} receipts
 */
async function returnMissing(store, after, upTo, receipts) {
  const answers = receipts.filter((receipt) => receipt.status !== "rejected");
  const digests = new Map(answers.map((receipt) => [receipt.id, receipt.digest]));
  const range = IDBKeyRange.bound(["filed", after], ["filed", upTo], true, false);
  const filed = /** @type {KeptLine[]} */ (await ask(store("ops").index("state_seq").getAll(range)));
  const missing = filed.filter((op) => digests.get(op.id) !== op.digest);
  for (const op of missing) await moveTo(store, op, { state: "waiting", faults: [] });
  return missing.length;
}

/**
 * Leaving the outbox: only on a result that names the same id and the same digest.
 *
 * @param {Transaction} read
 * @param {Transaction} write
 */
const filingStore = (read, write) => ({
  /**
   * Up to `count` operations still to be filed whose seq is above `after`, oldest first.
   *
   * @param {number} after
   * @param {number} count
   */
  pending: async (after, count) => {
    /** @param {LineState} state */
    const from = (state) => IDBKeyRange.bound([state, after], [state, Infinity], true, false);
    /** @type {[KeptLine[], KeptLine[]]} */
    const [waiting, deferred] = await read(["ops"], (store) => {
      const index = store("ops").index("state_seq");
      return Promise.all([ask(index.getAll(from("waiting"), count)), ask(index.getAll(from("deferred"), count))]);
    });
    return [...waiting, ...deferred].sort((one, other) => one.seq - other.seq).slice(0, count);
  },

  /**
   * Applies what the desk answered; results that match nothing here change nothing.
   *
   * @param {Result[]} results
   * @param {number} at when they came
   * @returns how many matched
   */
  settle: (results, at) =>
    write(["ops", "visits", "meta"], async (store) => {
      let matched = 0;
      for (const result of results) {
        const op = await ask(store("ops").get(result.id));
        const state = stateOf(result);
        if (op === undefined || state === undefined || op.digest !== result.digest) continue;
        matched += 1;
        if (op.state === "mended") continue;
        const faults = result.problem === undefined || result.problem === null ? [] : [result.problem];
        await moveTo(store, op, { state, faults, conflict: result.status === "conflict" });
      }
      if (matched > 0) await ask(store("meta").put(at, "last_success"));
      return matched;
    }),

  /**
   * Compares what is filed here between two seqs with the desk's receipts; what is missing there waits again.
   *
   * @param {number} after
   * @param {number} upTo
   * @param {Result[]} receipts
   * @returns how many wait again
   */
  verify: (after, upTo, receipts) =>
    write(["ops", "visits"], async (store) => (after < upTo ? returnMissing(store, after, upTo, receipts) : 0)),
});
