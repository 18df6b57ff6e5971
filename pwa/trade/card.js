// The card of a vehicle or customer: what its visits say of it, corrected by what was filed beside them, and mergings.
// Twin of sync/kernel/card.py; nothing here reads a file, a clock or a global. A visit itself is never changed by a card.

import { leaves, ordered, plain, put, replay, unwrapped } from "./fold.js";

function byTime(stated) {
  const sorted = [];
  for (const one of stated) {
    let at = sorted.length;
    while (at > 0 && sorted[at - 1].at > one.at) at = at - 1;
    sorted.splice(at, 0, one);
  }
  return sorted;
}

const does = (op, kinds) => (kinds.kinds[unwrapped(op, kinds).kind] ?? {}).does;

function valueAt(tree, pointer) {
  let node = tree;
  for (const token of pointer.split("/").slice(1)) {
    if (node === null || typeof node !== "object") return null;
    node = node[plain(token)];
  }
  return node === undefined ? null : node;
}

// {fields, heads, conflicts} as known now; `stated` is {at, fields} of each visit, `ops` what stands on the card.
export function cardOf(what, stated, ops, kinds) {
  const values = new Map();
  const since = new Map();
  for (const one of byTime(stated)) {
    for (const [pointer, value] of leaves(one.fields, what + ".set", kinds)) {
      if (pointer === "/baseline") continue;
      values.set(pointer, value);
      since.set(pointer, one.at);
    }
  }
  const made = new Map();
  const corrections = [];
  for (const op of ops) {
    made.set(op.id, op.at);
    if (does(op, kinds) === "correct") corrections.push(op);
  }
  const replayed = replay(corrections, kinds);
  for (const pointer of Object.keys(replayed.heads)) {
    const first = replayed.heads[pointer];
    if (first.length > 0 && (!since.has(pointer) || made.get(first[0]) >= since.get(pointer))) {
      values.set(pointer, valueAt(replayed.visit, pointer));
    }
  }
  const fields = {};
  for (const [pointer, value] of values) if (value !== null) put(fields, pointer.split("/").slice(1), value);
  return { fields, heads: replayed.heads, conflicts: replayed.conflicts };
}

function root(over, name) {
  let found = name;
  while (over.has(found)) found = over.get(found);
  return found;
}

// {id: the id it is shown under} for customers that were merged into another; of two that contradict, the earlier stands.
export function merged(ops, kinds) {
  const over = new Map();
  for (const op of ordered(ops)) {
    if (does(op, kinds) !== "merge") continue;
    const { body } = unwrapped(op, kinds);
    const keep = root(over, body.keep);
    const drop = root(over, body.drop);
    if (keep !== drop) over.set(drop, keep);
  }
  const found = {};
  for (const name of over.keys()) found[name] = root(over, name);
  return found;
}
