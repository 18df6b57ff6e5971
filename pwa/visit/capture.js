// Turns what a step holds into signed op lines and hands them to the outbox with the view they change.
// No screen and no network; what a step means is visit_model.js, how it is stored is outbox.js.

import { isoLocal, uuid7 } from "../sync/identity.js";
import { cardsOf } from "./known_cards.js";
import { bytesOf, OP_BYTES, sha256Hex, written } from "../sync/op_line.js";
import { isErased, OutboxFault } from "../store/outbox.js";
import { changesOf, draftAfter, emptyDraft, hasDraft, openingOp, openPage, refold } from "./visit_model.js";
import { replay } from "../kernel.js";

const SCHEMA = 1;
const TRIES = 5;

// What a capture does to the album: the photos it adds, each with the operation that names it, and those it strikes.
function albumOf(ops, photos) {
  const opOf = (sha256) => ops.find((op) => op.kind === "photo.add" && op.body.sha256 === sha256).id;
  const struck = ops.filter((op) => op.kind === "item.strike" && op.body.list === "photos").map((op) => op.body.id);
  return { photos: photos.map((photo) => ({ ...photo, op: opOf(photo.sha256) })), struck };
}

// The one place on the phone that writes operations.
// - `keep` and `write` resolve with the instant of the save once the outbox's transaction is complete;
// - they reject with an OutboxFault and leave the page and its draft as they were;
// - calls run one after another, in the order they were made.
export function createCapture({ outbox, rulebook, device, clock = () => Date.now() }) {
  let queue = Promise.resolve();
  const inTurn = (work) => {
    const turn = queue.then(work);
    queue = turn.catch(() => undefined);
    return turn;
  };
  const kinds = rulebook.kinds;

  function stamped(page, body, seq, now) {
    const tz = -new Date(now).getTimezoneOffset();
    return { id: uuid7(now), device, seq, schema: SCHEMA, visit: page.id, ...body, at: now, tz };
  }

  async function attempt(page, bodies, changes, photos) {
    const now = clock();
    const after = await outbox.lastSeq();
    const all = page.ops.length === 0 ? [openingOp(page, kinds), ...bodies] : bodies;
    const ops = all.map((body, index) => stamped(page, body, after + 1 + index, now));
    const records = await Promise.all(ops.map(written));
    if (records.some((record) => bytesOf(record.json) > OP_BYTES)) throw new OutboxFault("too_long");
    for (const [index, op] of ops.entries()) if (op.body.replaces !== undefined) records[index].replaces = op.body.replaces;
    const replaced = new Set(records.map((record) => record.replaces));
    const kept = [...page.ops, ...ops].filter((op) => !replaced.has(op.id));
    const next = refold({ id: page.id, opening: page.opening }, kept, kinds);
    const view = { id: page.id, visit: next.visit, conflicts: next.conflicts, kept_at: now };
    const draft = draftAfter(page.draft, changes);
    await outbox.capture({ after, records, view, draft: hasDraft(draft) ? draft : null, ...albumOf(ops, photos) });
    page.draft = draftAfter(page.draft, changes);
    page.refused = (page.refused ?? []).filter((record) => !replaced.has(record.id));
    refold(page, next.ops, kinds);
    return now;
  }

  const commit = (page, bodies, changes, photos = []) => again(() => attempt(page, bodies, changes, photos));

  // Once more where another tab wrote meanwhile, so that the count has moved on.
  async function again(work) {
    for (let tries = 1; ; tries += 1) {
      try {
        return await work();
      } catch (error) {
        if (error.code !== "order_taken" || tries === TRIES) throw error;
      }
    }
  }

  async function beside(bodies) {
    const now = clock();
    const after = await outbox.lastSeq();
    const ops = bodies.map((body, index) => stamped({ id: null }, body, after + 1 + index, now));
    const records = await Promise.all(ops.map(written));
    for (const [index, op] of ops.entries()) records[index].cards = cardsOf(op, kinds);
    await outbox.captureBeside({ after, records });
    return now;
  }

  // What the desk said of a visit's entries that a person has to know of.
  const beheld = (page, records) =>
    Object.assign(page, { refused: records.filter((record) => record.state === "refused"), erased: records.filter(isErased).length });

  // A page in step with all that is kept of its visit, others' operations included; what is typed stays as it is.
  async function renew(page) {
    const records = (await outbox.opsOf(page.id)).filter((record) => record.state !== "mended");
    await outbox.refold(page.id, (id, ops) => {
      const { visit, conflicts } = replay(ops, kinds);
      return { id, visit, conflicts };
    });
    beheld(page, records);
    refold(page, records.map((record) => JSON.parse(record.json)), kinds);
  }

  // A draft with nothing in it is none: it would look like something that still has to be filed.
  const keepOrDrop = (page, draft) => (hasDraft(draft) ? outbox.keepDraft(draft) : outbox.dropDraft(page.id));

  const nothing = { used: [], items: [] };
  return {
    // Opens a visit: from its operations where there are any, from its draft, or fresh with `opening`.
    open: async (id, opening) => {
      const records = await outbox.opsOf(id);
      const draft = await outbox.draft(id);
      const ops = records.filter((record) => record.state !== "mended").map((record) => JSON.parse(record.json));
      const page = openPage(id, ops, draft, { ...opening, started_at: draft?.started_at ?? opening.started_at }, kinds);
      return beheld(page, records);
    },

    // Keeps what a step holds as operations; null when there was nothing to write.
    keep: (page, step) =>
      inTurn(async () => {
        const changes = changesOf(page, step, rulebook, () => uuid7(clock()));
        if (changes.bodies.length > 0) return commit(page, changes.bodies, changes);
        if (changes.used.length === 0 && changes.items.length === 0) return null;
        await keepOrDrop(page, draftAfter(page.draft, changes));
        page.draft = draftAfter(page.draft, changes);
        return null;
      }),

    // Writes operations that no field stands for: a confirmed caution, a verdict shown, a visit set aside.
    write: (page, bodies) => inTurn(() => commit(page, bodies, nothing)),

    // A photo and the operation that names it, in one transaction; `picture` is {type, bytes, thumb}.
    // Resolves with null where the visit has that very picture already, shown or struck.
    addPhoto: (page, role, picture) =>
      inTurn(async () => {
        const sha256 = await sha256Hex(picture.bytes);
        if (page.ops.some((op) => op.kind === "photo.add" && op.body.sha256 === sha256)) return null;
        const body = { kind: "photo.add", base: {}, body: { sha256, role, at: isoLocal(new Date(clock())) } };
        return commit(page, [body], nothing, [{ ...picture, sha256, at: clock() }]);
      }),

    // Writes operations beside the visits: a test marked healthy.
    writeBeside: (bodies) => inTurn(() => again(() => beside(bodies))),

    renew: (page) => inTurn(() => renew(page)),

    keepDraft: (page) =>
      inTurn(async () => {
        if (!page.removed) await keepOrDrop(page, page.draft);
        return clock();
      }),

    // Removes a visit that the desk has erased. In its turn, and once for all: a draft that was being kept goes with it.
    removeErased: (page) =>
      inTurn(async () => {
        await outbox.removeErased(page.id);
        Object.assign(page, { removed: true, ops: [], draft: emptyDraft(page.id, page.visit.started_at) });
      }),

    // SHA-256 over the digests of the visit's op lines in their order, a line each: the desk can work it out again.
    digestOf: async (page) => {
      const records = await outbox.opsOf(page.id);
      return sha256Hex(records.map((record) => `${record.digest}\n`).join(""));
    },

    now: () => isoLocal(new Date(clock())),
    newId: () => uuid7(clock()),
  };
}
