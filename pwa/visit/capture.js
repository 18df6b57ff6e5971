// Turns what a step holds into signed op lines and hands them to the outbox with the view they change.
// No screen and no network; what a step means is visit_model.js, how it is stored is outbox.js.

import { isoLocal, uuid7 } from "../sync/identity.js";
import { cardsOf } from "./known_cards.js";
import { bytesOf, OP_BYTES, sha256Hex, written } from "../sync/op_line.js";
import { OutboxFault } from "../store/idb.js";
import { isErased } from "../store/inbox_store.js";
import { changesOf, draftAfter } from "./step_changes.js";
import { emptyDraft, hasDraft, openingOp, openPage, refold } from "./visit_model.js";
import { replay } from "../kernel.js";

const SCHEMA = 1;
const TRIES = 5;

/** @typedef {Required<Omit<CaptureParts, "rulebook">> & {kinds: Kinds}} Means to write an operation with */

/**
 * What a capture does to the photos: those it adds, each with the operation that names it, and those it strikes.
 *
 * @param {Op[]} ops
 * @param {(Photo & Picture)[]} photos
 */
function albumOf(ops, photos) {
  /** @param {string} sha256 */
  const opOf = (sha256) => ops.find((op) => op.kind === "photo.add" && op.body.sha256 === sha256)?.id ?? "";
  const struck = ops.filter((op) => op.kind === "item.strike" && op.body.list === "photos").map((op) => op.body.id);
  return { photos: photos.map((photo) => ({ ...photo, op: opOf(photo.sha256) })), struck };
}

/**
 * The operations that these bodies become, counted on from `after`.
 *
 * @param {Means} means
 * @param {string | null} visit
 * @param {OpBody[]} bodies
 * @param {number} after
 * @param {number} now
 * @returns {Op[]}
 */
function stamped({ device, person }, visit, bodies, after, now) {
  const tz = -new Date(now).getTimezoneOffset();
  const by = person();
  const seq = (/** @type {number} */ index) => after + 1 + index;
  return bodies.map((body, index) => (
    { id: uuid7(now), device, seq: seq(index), schema: SCHEMA, visit, ...body, at: now, tz, ...(by && { by }) }
  ));
}

/** @param {Op[]} ops @returns {Promise<Line[]>} rejects with an OutboxFault where one is too long to be filed */
async function linesOf(ops) {
  const records = await Promise.all(ops.map(written));
  if (records.some((record) => bytesOf(record.json) > OP_BYTES)) throw new OutboxFault("too_long");
  for (const [index, op] of ops.entries()) {
    if (op.body.replaces !== undefined) records[index].replaces = op.body.replaces;
  }
  return records;
}

/**
 * Does `work` once more where another tab wrote meanwhile, so that the count has moved on.
 *
 * @template T
 * @param {() => Promise<T>} work
 */
async function again(work) {
  for (let tries = 1; ; tries += 1) {
    try {
      return await work();
    } catch (error) {
      if (/** @type {CodedError} */ (error).code !== "order_taken" || tries === TRIES) throw error;
    }
  }
}

/**
 * Writes operations of an open visit, and brings its page in step with them.
 *
 * @param {Means} means
 * @param {Page} page
 * @param {OpBody[]} bodies
 * @param {Written} changes what of the draft they stand for
 * @param {(Photo & Picture)[]} [photos]
 */
const commit = (means, page, bodies, changes, photos = []) =>
  again(async () => {
    const { outbox, kinds, clock } = means;
    const now = clock();
    const after = await outbox.lastSeq();
    const all = page.ops.length === 0 ? [openingOp(page, kinds), ...bodies] : bodies;
    const ops = stamped(means, page.id, all, after, now);
    const records = await linesOf(ops);
    const replaced = new Set(records.map((record) => record.replaces));
    const standing = [...page.ops, ...ops].filter((op) => !replaced.has(op.id));
    const next = refold({ id: page.id, opening: page.opening, draft: page.draft }, standing, kinds);
    const view = { id: page.id, visit: next.visit, conflicts: next.conflicts, kept_at: now };
    const draft = draftAfter(page.draft, changes);
    await outbox.capture({ after, records, view, draft: hasDraft(draft) ? draft : null, ...albumOf(ops, photos) });
    page.draft = draftAfter(page.draft, changes);
    page.refused = (page.refused ?? []).filter((record) => !replaced.has(record.id));
    refold(page, next.ops, kinds);
    return now;
  });

/** Writes operations that stand beside the visits. @param {Means} means @param {OpBody[]} bodies */
const commitBeside = (means, bodies) =>
  again(async () => {
    const now = means.clock();
    const after = await means.outbox.lastSeq();
    const ops = stamped(means, null, bodies, after, now);
    const records = await Promise.all(ops.map(written));
    for (const [index, op] of ops.entries()) records[index].cards = cardsOf(op, means.kinds);
    await means.outbox.captureBeside({ after, records });
    return now;
  });

/**
 * Notes on the page what the desk said about its entries that a person has to know.
 *
 * @param {Page} page
 * @param {KeptLine[]} records
 */
function noteAnswers(page, records) {
  page.refused = records.filter((record) => record.state === "refused");
  page.erased = records.filter(isErased).length;
  return page;
}

/** The operations that stand. @param {KeptLine[]} records @returns {Op[]} */
const opsOf = (records) =>
  records.filter((record) => record.state !== "mended").map((record) => JSON.parse(record.json));

/**
 * A page in step with all that is kept of its visit, others' operations included; what is typed stays as it is.
 *
 * @param {Means} means
 * @param {Page} page
 */
async function renew({ outbox, kinds }, page) {
  const records = await outbox.opsOf(page.id);
  await outbox.refold(page.id, (id, ops) => {
    const { visit, conflicts } = replay(ops, kinds);
    return { id, visit, conflicts };
  });
  noteAnswers(page, records);
  refold(page, opsOf(records), kinds);
}

/**
 * A draft with nothing in it counts as none: it would look like something still to be filed.
 *
 * @param {Outbox} outbox
 * @param {Draft} draft
 */
const keepOrDrop = (outbox, draft) => (hasDraft(draft) ? outbox.keepDraft(draft) : outbox.dropDraft(draft.visit));

/** Runs works one after another, in the order they were asked for, whatever becomes of each. */
function createQueue() {
  /** @type {Promise<unknown>} */
  let last = Promise.resolve();
  return (/** @type {() => Promise<any>} */ work) => {
    const turn = last.then(work);
    last = turn.catch(() => undefined);
    return turn;
  };
}

/** @type {Written} */
const NOTHING = { used: [], items: [] };

/**
 * The one place on the phone that writes operations.
 * - `keep` and `write` resolve with the instant of the save once the outbox's transaction is complete;
 * - they reject with an OutboxFault and leave the page and its draft as they were;
 * - calls run one after another, in the order they were made.
 *
 * @param {CaptureParts} parts
 */
export function createCapture({ outbox, rulebook, device, person = () => undefined, clock = () => Date.now() }) {
  const means = { outbox, kinds: rulebook.kinds, device, person, clock };
  const inTurn = createQueue();
  const newId = () => uuid7(clock());

  /** @param {Page} page @param {Step} step @returns {Promise<number | null>} */
  async function keepStep(page, step) {
    const changes = changesOf(page, step, rulebook, newId);
    if (changes.bodies.length > 0) return commit(means, page, changes.bodies, changes);
    if (changes.used.length === 0 && changes.items.length === 0) return null;
    await keepOrDrop(outbox, draftAfter(page.draft, changes));
    page.draft = draftAfter(page.draft, changes);
    return null;
  }

  return {
    ...createPhotoCapture(means, inTurn),
    ...createPageUpkeep(means, inTurn),

    /** @param {string} id @param {Opening} opening for a visit with nothing kept @returns {Promise<Page>} */
    open: async (id, opening) => {
      const records = await outbox.opsOf(id);
      const draft = await outbox.draft(id);
      const start = { ...opening, started_at: draft?.started_at ?? opening.started_at };
      return noteAnswers(openPage(id, opsOf(records), draft, start, rulebook.kinds), records);
    },

    /**
     * Keeps what a step holds as operations.
     *
     * @param {Page} page
     * @param {Step} step
     * @returns {Promise<number | null>} null when there was nothing to write
     */
    keep: (page, step) => inTurn(() => keepStep(page, step)),

    /**
     * Writes operations that no field stands for: a confirmed caution, a verdict shown, a visit set aside.
     *
     * @param {Page} page
     * @param {OpBody[]} bodies
     * @returns {Promise<number>}
     */
    write: (page, bodies) => inTurn(() => commit(means, page, bodies, NOTHING)),

    // Writes operations beside the visits: a test marked healthy.
    /** @param {OpBody[]} bodies @returns {Promise<number>} */
    writeBeside: (bodies) => inTurn(() => commitBeside(means, bodies)),

    now: () => isoLocal(new Date(clock())),
    newId,
  };
}

/**
 * The part of a capture that keeps a page in step with the store, or takes it out.
 *
 * @param {Means} means
 * @param {ReturnType<typeof createQueue>} inTurn
 */
const createPageUpkeep = (means, inTurn) => ({
  /** @param {Page} page @returns {Promise<void>} */
  renew: (page) => inTurn(() => renew(means, page)),

  /** @param {Page} page @returns {Promise<number>} */
  keepDraft: (page) =>
    inTurn(async () => {
      if (!page.removed) await keepOrDrop(means.outbox, page.draft);
      return means.clock();
    }),

  /**
   * Removes a visit that the desk has erased. In its turn and for good: a draft that was being kept goes with it.
   *
   * @param {Page} page
   * @returns {Promise<void>}
   */
  removeErased: (page) =>
    inTurn(async () => {
      await means.outbox.removeErased(page.id);
      Object.assign(page, { removed: true, ops: [], draft: emptyDraft(page.id, page.visit.started_at) });
    }),
});

/**
 * The part of a capture that reads or writes bytes besides operations.
 *
 * @param {Means} means
 * @param {ReturnType<typeof createQueue>} inTurn
 */
const createPhotoCapture = (means, inTurn) => ({
  /**
   * A photo and the operation that names it, in one transaction.
   *
   * @param {Page} page
   * @param {string} role
   * @param {Picture} picture
   * @returns {Promise<number | null>} null where the visit has that very picture already, shown or struck
   */
  addPhoto: (page, role, picture) =>
    inTurn(async () => {
      const { clock } = means;
      const sha256 = await sha256Hex(picture.bytes);
      if (page.ops.some((op) => op.kind === "photo.add" && op.body.sha256 === sha256)) return null;
      const body = { kind: "photo.add", base: {}, body: { sha256, role, at: isoLocal(new Date(clock())) } };
      return commit(means, page, [body], NOTHING, [{ ...picture, sha256, at: clock() }]);
    }),

  /**
   * SHA-256 over the digests of the visit's op lines in their order, a line each: the desk can work it out again.
   *
   * @param {Page} page
   */
  digestOf: async (page) => {
    const records = await means.outbox.opsOf(page.id);
    return sha256Hex(records.map((record) => `${record.digest}\n`).join(""));
  },
});
