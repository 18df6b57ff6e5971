// The cards of vehicles and customers in the phone's store: which operations stand on each, this phone's and others'.
// IndexedDB only, under the contract of outbox.js; the fold works out a card's content, not this file.

import { ask, OutboxFault } from "./idb.js";

/** @param {StoreOf} store @param {string} name @returns {Promise<string[]>} */
const idsOn = async (store, name) => (await ask(store("meta").get(`card ${name}`))) ?? [];

/** @param {StoreOf} store @param {string[]} ids @returns {Promise<Op[]>} */
async function opsOf(store, ids) {
  /** @type {(KeptLine | undefined)[]} */
  const records = await Promise.all(ids.map((id) => ask(store("ops").get(id))));
  const standing = records.filter((record) => record !== undefined && record.state !== "mended");
  return standing.map((record) => JSON.parse(/** @type {KeptLine} */ (record).json));
}

/** Puts an operation on its cards. @param {StoreOf} store @param {Line} record */
export async function keepOnCards(store, record) {
  for (const name of record.cards ?? []) {
    const ids = await idsOn(store, name);
    if (!ids.includes(record.id)) await ask(store("meta").put([...ids, record.id], `card ${name}`));
  }
}

/** @param {Transaction} read @param {Transaction} write */
export const cardStore = (read, write) => ({
  /** The operations on a card. @param {string} name "vehicle <id>" or "customer <id>" */
  cardOps: (name) => read(["ops", "meta"], async (store) => opsOf(store, await idsOn(store, name))),

  // Everything on any customer's card: it tells which two were joined.
  customerOps: () =>
    read(["ops", "meta"], async (store) => {
      const range = IDBKeyRange.bound("card customer ", "card customer \uffff");
      const cards = /** @type {string[][]} */ (await ask(store("meta").getAll(range)));
      return opsOf(store, [...new Set(cards.flat())]);
    }),

  /**
   * Keeps operations of this phone's own that stand beside the visits.
   *
   * @param {{after: number, records: Line[]}} captured `after` as in `capture`
   */
  captureBeside: ({ after, records }) =>
    write(["ops", "meta"], async (store) => {
      const last = (await ask(store("meta").get("seq"))) ?? 0;
      if (last !== after) throw new OutboxFault("order_taken");
      for (const record of records) {
        await ask(store("ops").add({ ...record, state: "waiting", faults: [] }));
        await keepOnCards(store, record);
      }
      await ask(store("meta").put(after + records.length, "seq"));
    }),
});
