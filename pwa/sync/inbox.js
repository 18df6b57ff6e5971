// Takes what the desk tells of others' work into the outbox: their operations, the sheets' states, baselines, erasures.
// No screen and no network; nothing of this phone's own is changed or dropped by what others did.

import { cardsOf } from "../visit/known_cards.js";
import { sha256Hex } from "./op_line.js";
import { replay } from "../kernel.js";

const DIGEST = 64;

// The record of a line, or null where its hash does not fit: it was damaged on its way and has to be told again.
async function recordOf(line, kinds, onFault) {
  const digest = line.slice(0, DIGEST);
  const json = line.slice(DIGEST + 1);
  if ((await sha256Hex(json)) !== digest) {
    onFault(new Error(`an entry of another device came damaged: ${digest.slice(0, 12)}`));
    return null;
  }
  const op = JSON.parse(json);
  const cards = op.visit === null ? cardsOf(op, kinds) : [];
  return { id: op.id, visit: op.visit, seq: op.seq, kind: op.kind, at: op.at, json, digest, cards };
}

// `hear(answer)` resolves with the ids of the visits that others changed, once all of the answer is kept together with
// its cursor; a phone that is killed before hears the same again, and so does one that got a damaged line.
export function createInbox({ outbox, rulebook, onFault = (error) => console.warn("changes:", error) }) {
  const viewOf = (id, ops) => {
    const { visit, conflicts } = replay(ops, rulebook.kinds);
    return { id, visit, conflicts };
  };
  return async (answer) => {
    const told = { records: [], sheets: [], baselines: [], erased: [] };
    for (const change of answer.changes) {
      if (change.kind === "op") told.records.push(await recordOf(change.line, rulebook.kinds, onFault));
      else if (change.kind === "sheet") told.sheets.push(change);
      else if (change.kind === "baseline") told.baselines.push(change);
      else if (change.kind === "erased") told.erased.push(...(change.visits ?? []));
    }
    const sound = told.records.filter((record) => record !== null);
    const cursor = sound.length === told.records.length ? answer.cursor : null;
    return outbox.absorb({ ...told, records: sound, cursor, viewOf });
  };
}
