// Mending: what to write when the desk refused an entry, and when two entries disagree.
// Pure: it makes bodies of operations from what is kept; a person decides, capture.js writes.

import { leaves, plain, put } from "../kernel.js";

/** @param {string} pointer */
export const partsOf = (pointer) => pointer.split("/").slice(1).map(plain);

/**
 * The refused operation's faults, each with the pointer inside its body; "" where the whole entry is meant.
 *
 * @param {Pick<KeptLine, "faults">} record
 * @returns {(Problem & {inBody: string})[]}
 */
export function faultsOf(record) {
  const listed = record.faults.flatMap((problem) => problem.errors ?? [problem]);
  return listed.map((fault) => ({ ...fault, inBody: (fault.pointer ?? "").replace(/^\/body/, "") }));
}

/** @param {any} node @param {string[]} path @returns {any} */
function pruned(node, path) {
  if (path.length === 0 || node === null || typeof node !== "object") return undefined;
  const [key, ...rest] = path;
  const copy = Array.isArray(node) ? [...node] : { ...node };
  const inner = key in copy ? pruned(copy[key], rest) : copy[key];
  if (Array.isArray(copy)) copy.splice(Number(key), inner === undefined ? 1 : 0);
  else if (inner === undefined) delete copy[key];
  else copy[key] = inner;
  return copy;
}

/**
 * The operation that stands for a refused one with its faulty parts left out, or null where the fault lies in the
 * frame: {kind: "op.mend", base, body: {replaces, kind, body}}. It keeps every base, and stands even where nothing is
 * left, because later entries may build on the refused one and would wait forever.
 *
 * @param {KeptLine} record
 * @param {Kinds} kinds
 * @returns {OpBody | null}
 */
export function mendingOf(record, kinds) {
  const op = JSON.parse(record.json);
  const faults = faultsOf(record);
  if (faults.some((fault) => fault.inBody === "") || op.kind === "op.mend") return null;
  let body = op.body;
  for (const fault of faults) body = pruned(body, partsOf(fault.inBody)) ?? {};
  if (kinds.kinds[op.kind].opens && leaves(body, op.kind, kinds).length === 0) return null;
  return { kind: "op.mend", base: op.base, body: { replaces: op.id, kind: op.kind, body } };
}

/**
 * Every pointer on which the chosen operation disagrees with another, settled for the chosen one in one operation.
 *
 * @param {Conflict[]} conflicts
 * @param {string} chosen
 * @returns {OpBody}
 */
export function settlementOf(conflicts, chosen) {
  /** @type {Tree} */
  const set = {};
  /** @type {OpBody["base"]} */
  const base = {};
  const of = new Set();
  for (const conflict of conflicts) {
    const choice = conflict.values.find((value) => value.op === chosen);
    if (choice === undefined) continue;
    put(set, conflict.pointer.split("/").slice(1), choice.value);
    base[conflict.pointer] = choice.op;
    for (const value of conflict.values) of.add(value.op);
  }
  return { kind: "conflict.settle", base, body: { of: [...of], set } };
}

/**
 * Where a pointer of a visit is asked: the slug of its step; tests are found by their role.
 *
 * @param {string} pointer
 * @param {Visit} visit
 * @param {Step[]} steps
 * @returns {string | null}
 */
export function stepForPointer(pointer, visit, steps) {
  const path = partsOf(pointer);
  const test = path[0] === "tests" ? (visit.tests ?? []).find((one) => one.id === path[1]) : undefined;
  if (test !== undefined) return test.role === "after" ? "after" : "before";
  const name = `${path.join(".")}.`;
  /** @param {StepPart} field */
  const holds = (field) => name.startsWith(`${field.path?.join(".")}.`);
  return steps.find((step) => step.fields.some(holds))?.slug ?? null;
}

