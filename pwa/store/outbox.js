// The phone's own store: drafts, operations with their state, the view of each visit, and what the phone remembers.
// IndexedDB only: no screen, no network, no judgement of what is kept. Photos and clocks have their part in photo_store.js.

import { dropStruck, erasePhotos, keepPhoto, keepingClocks, keepingPhotos } from "./photo_store.js";

// One entry a database version; an entry is never edited once phones carry it, only followed by another.
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

const STATE_OF_RESULT = { accepted: "filed", conflict: "filed", rejected: "refused", deferred: "deferred" };

// A line that was damaged on its way says nothing against the entry kept here: its sound copy goes again.
const stateOf = (result) => (result.problem?.code === "damaged" ? "waiting" : STATE_OF_RESULT[result.status]);

// code: disk_full | order_taken | newer_page | unavailable. The words for each stand in form/words.js.
export class OutboxFault extends Error {
  constructor(code, cause) {
    super(code, { cause });
    this.code = code;
  }
}

export const ask = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

function faultOf(error) {
  if (error instanceof OutboxFault) return error;
  if (error !== null && error !== undefined && error.name === "QuotaExceededError") return new OutboxFault("disk_full", error);
  if (error !== null && error !== undefined && error.name === "VersionError") return new OutboxFault("newer_page", error);
  return new OutboxFault("unavailable", error);
}

function connect(name, upgrades, onLost) {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(name, upgrades.length);
    request.onupgradeneeded = (event) => {
      for (let step = event.oldVersion; step < upgrades.length; step += 1) upgrades[step](request.result, request.transaction);
    };
    request.onerror = () => reject(faultOf(request.error));
    request.onsuccess = () => {
      const database = request.result;
      database.onclose = onLost;
      database.onversionchange = () => {
        database.close();
        onLost();
      };
      resolve(database);
    };
  });
}

// Opens the store, and opens it again whenever the browser drops the connection (iOS does so in the background).
//
// Every write method below keeps this contract:
// - it is ONE transaction with `durability: "strict"`;
// - its promise resolves at the transaction's `complete`, never at a request's `success`;
// - it rejects with an OutboxFault when the transaction aborts, and then nothing of it was kept;
// - a dropped connection is reopened and the whole transaction tried once more.
export function openOutbox({ name = "layby", upgrades = UPGRADES } = {}) {
  let connection = null;
  const opened = () => {
    if (connection === null) {
      connection = connect(name, upgrades, () => {
        connection = null;
      });
      connection.catch(() => {
        connection = null;
      });
    }
    return connection;
  };

  async function begin(stores, mode) {
    for (let attempt = 0; ; attempt += 1) {
      const database = await opened();
      try {
        return database.transaction(stores, mode, { durability: "strict" });
      } catch (error) {
        if (attempt > 0 || error.name !== "InvalidStateError") throw faultOf(error);
        connection = null;
      }
    }
  }

  async function run(stores, mode, work) {
    const transaction = await begin(stores, mode);
    return new Promise((resolve, reject) => {
      let result;
      let fault = null;
      transaction.oncomplete = () => resolve(result);
      transaction.onabort = () => reject(faultOf(fault instanceof OutboxFault ? fault : (transaction.error ?? fault)));
      const store = (label) => transaction.objectStore(label);
      Promise.resolve(work(store)).then(
        (value) => {
          result = value;
        },
        (error) => {
          fault = error;
          try {
            transaction.abort();
          } catch (already) {
            if (already.name !== "InvalidStateError") throw already;
          }
        },
      );
    });
  }

  const read = (stores, work) => run(stores, "readonly", work);
  const write = (stores, work) => run(stores, "readwrite", work);
  const parts = [remembering, capturing, filing, keepingPhotos, keepingClocks, hearing].map((part) => part(read, write));
  return { ...Object.assign({}, ...parts), close: async () => (await opened()).close() };
}

// What the phone remembers: device id, settings, when it last reached the desk.
function remembering(read, write) {
  return {
    recall: (key) => read(["meta"], (store) => ask(store("meta").get(key))),
    remember: (key, value) => write(["meta"], (store) => ask(store("meta").put(value, key))),

    // What `change(kept)` makes of the value under `key`; nothing comes between reading and keeping it.
    amend: (key, change) =>
      write(["meta"], async (store) => {
        const kept = await ask(store("meta").get(key));
        await ask(store("meta").put(change(kept), key));
      }),

    // The value kept under `key`, or `made()` kept there now; two tabs get the same one.
    recallOrMake: (key, made) =>
      write(["meta"], async (store) => {
        const kept = await ask(store("meta").get(key));
        if (kept !== undefined) return kept;
        const fresh = made();
        await ask(store("meta").put(fresh, key));
        return fresh;
      }),
  };
}

// Drafts, and the step from a draft to operations.
function capturing(read, write) {
  return {
    draft: (visit) => read(["drafts"], (store) => ask(store("drafts").get(visit))),
    drafts: () => read(["drafts"], (store) => ask(store("drafts").getAll())),
    keepDraft: (draft) => write(["drafts"], (store) => ask(store("drafts").put(draft))),
    dropDraft: (visit) => write(["drafts"], (store) => ask(store("drafts").delete(visit))),

    visits: () => read(["visits"], (store) => ask(store("visits").getAll())),
    view: (id) => read(["visits"], (store) => ask(store("visits").get(id))),

    // The operations of one visit, in the order they were made.
    opsOf: async (visit) => {
      const found = await read(["ops"], (store) => ask(store("ops").index("visit").getAll(visit)));
      return found.sort((one, other) => one.seq - other.seq || (one.id < other.id ? -1 : 1));
    },

    // Every operation of this phone's own, in the order they were made.
    everyOp: async () => (await read(["ops"], (store) => ask(store("ops").index("seq").getAll()))).filter((op) => op.state !== "theirs"),

    lastSeq: () => read(["meta"], async (store) => (await ask(store("meta").get("seq"))) ?? 0),

    // Keeps operations, the view they change and the draft that is left, all or nothing; with them the bytes of the
    // photos they add, and a mark on those they strike.
    // `after` is the seq the caller counted on from; if another tab wrote meanwhile it rejects with `order_taken`.
    capture: ({ after, records, view, draft, photos = [], struck = [] }) =>
      write(["ops", "drafts", "visits", "meta", ...(photos.length + struck.length > 0 ? ["photos", "slips"] : [])], async (store) => {
        const last = (await ask(store("meta").get("seq"))) ?? 0;
        if (last !== after) throw new OutboxFault("order_taken");
        for (const record of records) {
          await ask(store("ops").add({ ...record, state: "waiting", faults: [] }));
          if (record.replaces !== undefined) await markMended(store, record);
        }
        for (const photo of photos) await keepPhoto(store, photo);
        for (const sha256 of struck) await dropStruck(store, sha256);
        const before = await ask(store("visits").get(view.id));
        const tally = { waiting: 0, filed: 0, refused: 0, ...(before === undefined ? {} : before.tally) };
        tally.waiting += records.length;
        for (const record of records) if (record.replaces !== undefined) tally.refused -= 1;
        await ask(store("visits").put({ ...before, ...view, tally }));
        await ask(draft === null ? store("drafts").delete(view.id) : store("drafts").put(draft));
        await ask(store("meta").put(after + records.length, "seq"));
      }),
  };
}

// What others did, and operations beside the visits: kept with the cards of the vehicles and customers they are about.
function hearing(read, write) {
  const cardIds = async (store, name) => (await ask(store("meta").get(`card ${name}`))) ?? [];

  async function keepOn(store, record) {
    for (const name of record.cards) {
      const ids = await cardIds(store, name);
      if (!ids.includes(record.id)) await ask(store("meta").put([...ids, record.id], `card ${name}`));
    }
  }

  async function fold(store, id, viewOf) {
    const records = await ask(store("ops").index("visit").getAll(id));
    const ops = records.filter((record) => record.state !== "mended").map((record) => JSON.parse(record.json));
    const before = await ask(store("visits").get(id));
    if (ops.length > 0) await ask(store("visits").put({ tally: { waiting: 0, filed: 0, refused: 0 }, ...before, ...viewOf(id, ops) }));
  }

  // A visit that was erased at the desk goes from the phone too, unless something of it still has to be filed.
  async function erase(store, id) {
    const records = await ask(store("ops").index("visit").getAll(id));
    const held = records.some((record) => ["waiting", "deferred", "refused"].includes(record.state));
    if (held || (await ask(store("drafts").get(id))) !== undefined) return;
    await remove(store, id, records);
  }

  async function remove(store, id, records) {
    for (const record of records) await ask(store("ops").delete(record.id));
    await erasePhotos(store, records);
    for (const label of ["clocks", "drafts", "visits"]) await ask(store(label).delete(id));
  }

  // What was written beside the visits about one of them and is not taken in either: a test of it marked healthy.
  async function besides(store, id) {
    const all = await ask(store("ops").index("state_seq").getAll(IDBKeyRange.bound(["deferred", 0], ["deferred", Infinity])));
    return all.filter((record) => record.visit === null && isErased(record) && JSON.parse(record.json).body.visit === id);
  }

  return {
    // The operations on a card ("vehicle <id>", "customer <id>"), this phone's own and others'.
    cardOps: (name) =>
      read(["ops", "meta"], async (store) => {
        const found = [];
        for (const id of await cardIds(store, name)) found.push(await ask(store("ops").get(id)));
        return found.filter((record) => record !== undefined && record.state !== "mended").map((record) => JSON.parse(record.json));
      }),

    // Everything that stands on any customer's card: which two were joined is told by it.
    customerOps: () =>
      read(["ops", "meta"], async (store) => {
        const cards = await ask(store("meta").getAll(IDBKeyRange.bound("card customer ", "card customer \uffff")));
        const found = await Promise.all([...new Set(cards.flat())].map((id) => ask(store("ops").get(id))));
        return found.filter((record) => record !== undefined && record.state !== "mended").map((record) => JSON.parse(record.json));
      }),

    // Keeps operations of this phone's own that stand beside the visits; `after` as in `capture`.
    captureBeside: ({ after, records }) =>
      write(["ops", "meta"], async (store) => {
        const last = (await ask(store("meta").get("seq"))) ?? 0;
        if (last !== after) throw new OutboxFault("order_taken");
        for (const record of records) {
          await ask(store("ops").add({ ...record, state: "waiting", faults: [] }));
          await keepOn(store, record);
        }
        await ask(store("meta").put(after + records.length, "seq"));
      }),

    // Keeps what one answer told, all of it with its cursor; resolves with the visits that others changed.
    absorb: ({ records, sheets, baselines, erased, cursor, viewOf }) =>
      write(["ops", "drafts", "visits", "meta", "photos", "slips", "clocks"], async (store) => {
        const changed = new Set();
        for (const record of records) {
          if ((await ask(store("ops").get(record.id))) !== undefined) continue;
          await ask(store("ops").add({ ...record, state: "theirs", faults: [] }));
          await keepOn(store, record);
          if (record.visit !== null) changed.add(record.visit);
        }
        for (const id of changed) await fold(store, id, viewOf);
        for (const { visit, revision, state, at, reason } of sheets) {
          const view = await ask(store("visits").get(visit));
          if (view !== undefined) await ask(store("visits").put({ ...view, sheet: { revision, state, at, reason } }));
        }
        for (const { vehicle, baseline } of baselines) await ask(store("meta").put(baseline, `baseline ${vehicle}`));
        for (const id of erased) await erase(store, id);
        if (cursor !== null) await ask(store("meta").put(cursor, "changes_cursor"));
        return [...changed];
      }),

    // Removes a visit that was erased at the desk, with what still waits for it. Only where the desk said so, and only
    // because a person wants it; resolves with whether it went.
    removeErased: (id) =>
      write(["ops", "drafts", "visits", "meta", "photos", "slips", "clocks"], async (store) => {
        const records = await ask(store("ops").index("visit").getAll(id));
        if (!records.some(isErased)) return false;
        await remove(store, id, [...records, ...(await besides(store, id))]);
        return true;
      }),

    // Folds a visit anew from all that is kept of it.
    refold: (id, viewOf) => write(["ops", "visits"], (store) => fold(store, id, viewOf)),
  };
}

async function markMended(store, record) {
  const refused = await ask(store("ops").get(record.replaces));
  if (refused === undefined || refused.state !== "refused") throw new OutboxFault("order_taken");
  await ask(store("ops").put({ ...refused, state: "mended" }));
}

// Whether the desk answered that this belongs to somebody whose data were erased there: it would wait for ever.
export const isErased = (record) => record.state === "deferred" && record.faults[0]?.code === "visit_erased";

const counted = (state) => (state === "deferred" ? "waiting" : state);

async function moveTo(store, op, change) {
  const view = op.visit === null ? undefined : await ask(store("visits").get(op.visit));
  const from = counted(op.state);
  const to = counted(change.state);
  // Entries that were filed before are called accepted and go back to waiting by turns; they say nothing of it.
  const said = isErased({ ...op, ...change });
  const erased = said || (view?.erased === true && !isErased(op));
  if (view !== undefined && (from !== to || erased !== (view.erased ?? false))) {
    const tally = { ...view.tally };
    tally[from] -= 1;
    tally[to] += 1;
    await ask(store("visits").put({ ...view, tally, erased }));
  }
  await ask(store("ops").put({ ...op, ...change }));
}

// Leaving the outbox: only on a result that names the same id and the same digest.
function filing(read, write) {
  return {
    // Up to `count` operations still to be filed whose seq is above `after`, oldest first.
    pending: async (after, count) => {
      const from = (state) => IDBKeyRange.bound([state, after], [state, Infinity], true, false);
      const [waiting, deferred] = await read(["ops"], (store) => {
        const index = store("ops").index("state_seq");
        return Promise.all([ask(index.getAll(from("waiting"), count)), ask(index.getAll(from("deferred"), count))]);
      });
      return [...waiting, ...deferred].sort((one, other) => one.seq - other.seq).slice(0, count);
    },

    // Applies what the desk answered; results that match nothing here change nothing.
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

    // Compares what is filed here between two seqs with the desk's receipts; what is missing there waits again.
    verify: (after, upTo, receipts) =>
      write(["ops", "visits"], async (store) => {
        if (!(after < upTo)) return 0;
        const taken = receipts.filter((receipt) => receipt.status !== "rejected");
        const known = new Map(taken.map((receipt) => [receipt.id, receipt.digest]));
        const range = IDBKeyRange.bound(["filed", after], ["filed", upTo], true, false);
        const filed = await ask(store("ops").index("state_seq").getAll(range));
        let returned = 0;
        for (const op of filed) {
          if (known.get(op.id) === op.digest) continue;
          await moveTo(store, op, { state: "waiting", faults: [] });
          returned += 1;
        }
        return returned;
      }),
  };
}
