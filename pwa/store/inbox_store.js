// What others did, as the phone's store takes it in: their operations, sheets' states, baselines, and what was erased.
// IndexedDB only, under the contract of outbox.js; how a visit is folded is handed in, and nothing is judged.

import { keepOnCards } from "./card_store.js";
import { ask } from "./idb.js";
import { erasePhotos } from "./photo_store.js";

/** @typedef {(id: string, ops: Op[]) => FoldedVisit} ViewOf */

/** Under what the phone remembers things of its own about a visit, which no operation holds. @param {string} id */
export const ownKey = (id) => `own ${id}`;

/** @type {StoreName[]} */
const STORES = ["ops", "drafts", "visits", "meta", "photos", "slips", "clocks"];

const UNFILED = ["waiting", "deferred", "refused"];

/**
 * Whether the desk answered that this belongs to somebody whose data was erased there: it would wait forever.
 *
 * @param {KeptLine} record
 */
export const isErased = (record) => record.state === "deferred" && record.faults[0]?.code === "visit_erased";

/** @param {StoreOf} store @param {string} id @returns {Promise<KeptLine[]>} */
const recordsOf = (store, id) => ask(store("ops").index("visit").getAll(id));

/** @param {StoreOf} store @param {string} id @param {ViewOf} viewOf */
async function fold(store, id, viewOf) {
  const standing = (await recordsOf(store, id)).filter((record) => record.state !== "mended");
  const before = await ask(store("visits").get(id));
  if (standing.length === 0) return;
  const view = viewOf(id, standing.map((record) => JSON.parse(record.json)));
  await ask(store("visits").put({ tally: { waiting: 0, filed: 0, refused: 0 }, ...before, ...view }));
}

/** @param {StoreOf} store @param {string} id @param {KeptLine[]} records */
async function remove(store, id, records) {
  for (const record of records) await ask(store("ops").delete(record.id));
  await erasePhotos(store, records);
  for (const label of /** @type {StoreName[]} */ (["clocks", "drafts", "visits"])) await ask(store(label).delete(id));
  await ask(store("meta").delete(ownKey(id)));
}

/**
 * A visit that was erased at the desk goes from the phone too, unless something of it still has to be filed.
 *
 * @param {StoreOf} store
 * @param {string} id
 */
async function erase(store, id) {
  const records = await recordsOf(store, id);
  const waits = records.some((record) => UNFILED.includes(record.state));
  if (waits || (await ask(store("drafts").get(id))) !== undefined) return;
  await remove(store, id, records);
}

/**
 * What was written beside the visits about one of them and is not taken in either: a test of it marked healthy.
 *
 * @param {StoreOf} store
 * @param {string} id
 */
async function besides(store, id) {
  const range = IDBKeyRange.bound(["deferred", 0], ["deferred", Infinity]);
  const deferred = /** @type {KeptLine[]} */ (await ask(store("ops").index("state_seq").getAll(range)));
  const erased = deferred.filter((record) => record.visit === null && isErased(record));
  return erased.filter((record) => JSON.parse(record.json).body.visit === id);
}

/** Keeps others' operations; the visits that they change. @param {StoreOf} store @param {Line[]} records */
async function keepTheirs(store, records) {
  /** @type {Set<string>} */
  const changed = new Set();
  for (const record of records) {
    if ((await ask(store("ops").get(record.id))) !== undefined) continue;
    await ask(store("ops").add({ ...record, state: "theirs", faults: [] }));
    await keepOnCards(store, record);
    if (record.visit !== null) changed.add(record.visit);
  }
  return changed;
}

/** @param {StoreOf} store @param {SheetChange} change */
async function noteSheet(store, { visit, revision, state, at, reason }) {
  const view = await ask(store("visits").get(visit));
  if (view !== undefined) await ask(store("visits").put({ ...view, sheet: { revision, state, at, reason } }));
}

/** @param {Transaction} _read @param {Transaction} write */
export const inboxStore = (_read, write) => ({
  /**
   * Keeps what one answer told, all of it together with its cursor.
   *
   * @param {News & {cursor: string | null, viewOf: ViewOf}} news
   * @returns the ids of the visits that others changed
   */
  absorb: ({ records, sheets, baselines, erased, cursor, viewOf }) =>
    write(STORES, async (store) => {
      const changed = await keepTheirs(store, records);
      for (const id of changed) await fold(store, id, viewOf);
      for (const change of sheets) await noteSheet(store, change);
      for (const { vehicle, baseline, chart } of baselines) {
        await ask(store("meta").put(baseline, `baseline ${vehicle}`));
        await ask(store("meta").put(chart, `chart ${vehicle}`));
      }
      for (const id of erased) await erase(store, id);
      if (cursor !== null) await ask(store("meta").put(cursor, "changes_cursor"));
      return [...changed];
    }),

  /**
   * Removes a visit that was erased at the desk, with what still waits for it. Only where the desk said so, and only
   * because a person wants it.
   *
   * @param {string} id
   * @returns whether it went
   */
  removeErased: (id) =>
    write(STORES, async (store) => {
      const records = await recordsOf(store, id);
      if (!records.some(isErased)) return false;
      await remove(store, id, [...records, ...(await besides(store, id))]);
      return true;
    }),

  /** Folds a visit again from everything kept of it. @param {string} id @param {ViewOf} viewOf */
  refold: (id, viewOf) => write(["ops", "visits"], (store) => fold(store, id, viewOf)),
});
