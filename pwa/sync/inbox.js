// Takes what the desk tells of others' work into the outbox: their operations, the sheets' states, baselines, erasures.
// No screen and no network; nothing of this phone's own is changed or dropped by what others did.

import { cardsOf } from "../visit/known_cards.js";
import { sha256Hex } from "./op_line.js";
import { replay } from "../kernel.js";

const DIGEST = 64;

/**
 * The record of a line.
 *
 * @param {string} line
 * @param {Kinds} kinds
 * @returns {Promise<Line | null>} null where its hash does not fit: it was damaged on its way
 */
async function recordOf(line, kinds) {
  const digest = line.slice(0, DIGEST);
  const json = line.slice(DIGEST + 1);
  if ((await sha256Hex(json)) !== digest) return null;
  const op = JSON.parse(json);
  const cards = op.visit === null ? cardsOf(op, kinds) : [];
  return { id: op.id, visit: op.visit, seq: op.seq, kind: op.kind, at: op.at, json, digest, cards };
}

/** @param {string} line */
const damage = (line) => new Error(`an entry of another device came damaged: ${line.slice(0, 12)}`);

/**
 * `hear(answer)` resolves with the ids of the visits that others changed, once all of the answer is kept together with
 * its cursor; a phone that is killed before hears the same again, and so does one that got a damaged line.
 *
 * @param {{outbox: Outbox, rulebook: Rulebook, onFault?: (error: Error) => void}} parts
 * @returns {Hear}
 */
export function createInbox({ outbox, rulebook, onFault = (error) => console.warn("changes:", error) }) {
  /** @param {string} id @param {Op[]} ops */
  const viewOf = (id, ops) => {
    const { visit, conflicts } = replay(ops, rulebook.kinds);
    return { id, visit, conflicts };
  };
  return async (answer) => {
    /** @type {News & {cursor: string | null}} */
    const news = { records: [], sheets: [], baselines: [], erased: [], cursor: answer.cursor };
    for (const change of answer.changes) {
      if (change.kind === "sheet") news.sheets.push(change);
      else if (change.kind === "baseline") news.baselines.push(change);
      else if (change.kind === "erased") news.erased.push(...(change.visits ?? []));
      if (change.kind !== "op") continue;
      const record = await recordOf(change.line, rulebook.kinds);
      if (record !== null) news.records.push(record);
      else {
        // So that the desk tells it again.
        news.cursor = null;
        onFault(damage(change.line));
      }
    }
    return outbox.absorb({ ...news, viewOf });
  };
}
