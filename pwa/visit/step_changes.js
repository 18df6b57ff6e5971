// What leaving a step writes: operations for what changed, and the draft that is left once they are kept.
// Pure: no screen, no store, no clock; a text that is no value is never written, it stays in the draft.

import { chartReading } from "./chart.js";
import { valueOf } from "./number_input.js";
import { entries, stepsOf } from "./steps.js";
import { itemOf, itemsOf, nameOf, openingOp, placeOf, pointerOf, repeatedOf } from "./visit_model.js";
import { slotOf, testOf, valueAt } from "./visit_model.js";
import { canonical, fold, put } from "../kernel.js";

/** @param {Page} page @param {Step} step @param {Rulebook} rulebook */
const allItems = (page, step, rulebook) => [
  ...itemsOf(step, rulebook),
  ...(step.repeated === undefined ? [] : repeatedOf(page, step.repeated)),
];

/** @param {unknown} one @param {unknown} other */
const same = (one, other) => canonical(one ?? null) === canonical(other ?? null);

/**
 * Takes a leaf out of a tree, and the object it stood in where that is empty then.
 *
 * @param {Tree} tree
 * @param {string[]} path
 */
function drop(tree, [key, ...rest]) {
  if (tree[key] === undefined) return;
  if (rest.length > 0) drop(tree[key], rest);
  if (rest.length === 0 || isEmpty(tree[key])) delete tree[key];
}

/**
 * Collects what one scope (the visit, or one test) sets; `typedName` names a field among the typed texts.
 *
 * @param {Page} page
 * @param {StepPart[]} fields
 * @param {string | null} test
 * @param {Tree} root
 * @param {Rulebook} rulebook
 */
function scopeChanges(page, fields, test, root, rulebook) {
  /** @type {{body: Tree, base: OpBody["base"], used: Changes["used"], faults: string[]}} */
  const scope = { body: {}, base: {}, used: [], faults: [] };
  for (const field of entries(fields)) {
    const place = placeOf(field, test);
    const entry = page.draft.fields[place.key];
    if (entry === undefined) continue;
    const read = field.kind === "chart" ? chartReading(entry.text, rulebook) : valueOf(field, entry, rulebook);
    if (read.fault !== undefined) {
      scope.faults.push(place.key);
      continue;
    }
    scope.used.push([place.key, entry]);
    const name = nameOf(field);
    const typedName = test === null ? field.path.join(".") : `${test}.${name}`;
    if (!same(read.value, valueAt(root, field.path))) {
      put(scope.body, field.path, read.value);
      scope.base[place.pointer] = entry.seen[place.pointer] ?? null;
    }
    if (read.typed !== undefined && !same(read.typed, (page.visit.typed ?? {})[typedName])) {
      put(scope.body, ["typed", test === null ? typedName : name], read.typed);
      scope.base[place.typed] = entry.seen[place.typed] ?? null;
    }
  }
  return scope;
}

/** @param {object} object */
const isEmpty = (object) => Object.keys(object).length === 0;

/** Clearing what was never set is no change. @param {Tree} tree @returns {Tree} */
function withoutIdleNulls(tree) {
  /** @type {Tree} */
  const rest = {};
  for (const [key, value] of Object.entries(tree)) {
    if (value === null) continue;
    const inner = typeof value === "object" && !Array.isArray(value) ? withoutIdleNulls(value) : value;
    if (typeof inner !== "object" || Array.isArray(inner) || !isEmpty(inner)) rest[key] = inner;
  }
  return rest;
}

/** @param {Page} page @param {Step} step @param {Rulebook} rulebook @returns {Omit<Changes, "items">} */
function testChanges(page, step, rulebook) {
  const test = testOf(page, step.role);
  if (test === undefined) return { bodies: [], used: [], faults: [] };
  const old = (page.visit.tests ?? []).find((one) => one.id === test.id);
  const { body, base, used, faults } = scopeChanges(page, step.fields, test.id, old ?? {}, rulebook);
  if (old !== undefined) {
    const bodies = isEmpty(body) ? [] : [{ kind: "reading.set", base, body: { id: test.id, ...body } }];
    return { bodies, used, faults };
  }
  const first = withoutIdleNulls(body);
  const { id, role, at } = test;
  const bodies = isEmpty(first) ? [] : [{ kind: "test.add", base: {}, body: { id, role, at, ...first } }];
  return { bodies, used, faults };
}

/** @param {Page} page @param {Step} step @param {Rulebook} rulebook @returns {Omit<Changes, "items">} */
function visitChanges(page, step, rulebook) {
  const { body, base, used, faults } = scopeChanges(page, step.fields, null, page.visit, rulebook);
  return { bodies: isEmpty(body) ? [] : [{ kind: "visit.set", base, body }], used, faults };
}

/**
 * A kept line of a bill is set again in place, leaf by leaf, so that it keeps its position.
 *
 * @param {Item} item
 * @param {ListEntry} old
 * @param {DraftItem} draft
 * @param {Rulebook} rulebook
 */
function lineChange(item, old, draft, rulebook) {
  /** @type {OpBody} */
  const change = { kind: "charge.set", base: {}, body: { id: old.id } };
  /** @type {DraftItem["fields"]} */
  const left = {};
  for (const field of item.fields) {
    const name = field.path.join(".");
    const entry = draft.fields[name];
    if (entry === undefined) continue;
    const read = valueOf(field, entry, rulebook);
    if (read.fault !== undefined) left[name] = entry;
    else if (!same(read.value, old[name])) {
      change.body[name] = read.value;
      change.base[pointerOf([item.list, old.id, name])] = entry.seen ?? null;
    }
  }
  const line = /** @type {Tree} */ ({ ...old, ...change.body });
  const holds = item.fields.some(({ path }) => (line[path[0]] ?? null) !== null);
  return { change: isEmpty(change.base) ? [] : [change], left: leftOf(draft, left), holds };
}

/**
 * The draft of an item with only the texts in it that are no value; null where there are none.
 *
 * @param {DraftItem} draft
 * @param {DraftItem["fields"]} left
 */
const leftOf = (draft, left) => (isEmpty(left) ? null : { ...draft, fields: left });

/**
 * An item as it now reads: the kept one with what is typed over it, under a new id.
 *
 * @param {Page} page
 * @param {Item} item
 * @param {DraftItem} draft
 * @param {Rulebook} rulebook
 * @param {string} id
 */
function itemNow(page, item, draft, rulebook, id) {
  const old = itemOf(page, item);
  /** @type {ListEntry} */
  const body = { ...structuredClone(old ?? {}), id, ...item.base };
  if (item.timed === true) body.at = old?.at ?? draft.at;
  /** @type {Record<string, TypedText>} */
  const typed = {};
  /** @type {DraftItem["fields"]} */
  const left = {};
  for (const field of item.fields) {
    const name = field.path.join(".");
    const entry = draft.fields[name];
    const before = old === undefined ? undefined : page.visit.typed?.[`${old.id}.${nameOf(field)}`];
    const current = { value: valueAt(old, field.path) ?? null, typed: before, fault: undefined };
    const read = entry === undefined ? current : valueOf(field, entry, rulebook);
    if (read.fault !== undefined) left[name] = entry;
    else if (read.value === null) drop(body, field.path);
    else put(body, field.path, read.value);
    if (read.fault === undefined && read.typed) typed[`${id}.${nameOf(field)}`] = read.typed;
  }
  return { body, typed, left: leftOf(draft, left) };
}

/** An entry as text, whatever its id. @param {ListEntry} entry */
const contentOf = (entry) => canonical({ ...entry, id: null });

/**
 * @param {Page} page
 * @param {Item} item
 * @param {DraftItem} draft
 * @param {Rulebook} rulebook
 * @param {() => string} make
 * @returns {{bodies: OpBody[], left: DraftItem | null}}
 */
function itemChange(page, item, draft, rulebook, make) {
  const old = itemOf(page, item);
  const strike = old === undefined ? [] : [{ kind: "item.strike", base: {}, body: { list: item.list, id: old.id } }];
  if (draft.on === false) return { bodies: strike, left: null };
  if (item.repeated === true && old !== undefined) {
    const { change, left, holds } = lineChange(item, old, draft, rulebook);
    return { bodies: holds ? change : strike, left };
  }
  const { body, typed, left } = itemNow(page, item, draft, rulebook, make());
  const holds = item.fields.some((field) => valueAt(body, field.path) !== undefined);
  if (!BARE.includes(item.list) && !holds) return { bodies: strike, left };
  if (old !== undefined && contentOf(old) === contentOf(body)) return { bodies: [], left };
  const addition = { kind: `${ADD[item.list]}.add`, base: {}, body };
  return { bodies: [...strike, addition, ...(isEmpty(typed) ? [] : [typedOf(typed)])], left };
}

/** @type {Record<ListName, string>} */
const ADD = {
  work: "work",
  checks: "check",
  rests: "rest",
  advice: "advice",
  consent: "consent",
  refrigerant_moves: "move",
  charges: "charge",
};

/**
 * Lists whose entries say something by standing there, even with nothing more written about them.
 *
 * @type {ListName[]}
 */
const BARE = ["work", "consent", "refrigerant_moves"];

/** @param {Record<string, TypedText>} typed @returns {OpBody} */
function typedOf(typed) {
  /** @type {OpBody["base"]} */
  const base = {};
  for (const name of Object.keys(typed)) base[pointerOf(["typed", name])] = null;
  return { kind: "visit.set", base, body: { typed } };
}

/**
 * @param {Page} page
 * @param {Step} step
 * @param {Rulebook} rulebook
 * @param {() => string} make
 * @returns {Pick<Changes, "bodies" | "items" | "faults">}
 */
function itemChanges(page, step, rulebook, make) {
  /** @type {Pick<Changes, "bodies" | "items" | "faults">} */
  const changes = { bodies: [], items: [], faults: [] };
  for (const item of allItems(page, step, rulebook)) {
    const slot = slotOf(item);
    const draft = page.draft.items[slot];
    if (draft === undefined) continue;
    const { bodies, left } = itemChange(page, item, draft, rulebook, make);
    changes.bodies.push(...bodies);
    changes.items.push([slot, draft, left]);
    if (left !== null) changes.faults.push(slot);
  }
  return changes;
}

/**
 * What leaving a step writes: only changed leaves, never a text that is no value (those are named in `faults`).
 *
 * @param {Page} page
 * @param {Step} step
 * @param {Rulebook} rulebook
 * @param {() => string} make gives ids for new list items
 * @returns {Changes}
 */
export function changesOf(page, step, rulebook, make) {
  const scope = step.role === undefined ? visitChanges(page, step, rulebook) : testChanges(page, step, rulebook);
  const { bodies, items, faults } = itemChanges(page, step, rulebook, make);
  return { bodies: [...scope.bodies, ...bodies], used: scope.used, items, faults: [...scope.faults, ...faults] };
}

/**
 * The draft that is left once those changes are kept: whatever was typed since, and texts that are no value.
 *
 * @param {Draft} draft
 * @param {Written} changes
 * @returns {Draft}
 */
export function draftAfter(draft, changes) {
  const fields = { ...draft.fields };
  for (const [key, entry] of changes.used) if (fields[key] === entry) delete fields[key];
  const items = { ...draft.items };
  for (const [slot, entry, left] of changes.items) {
    if (items[slot] !== entry) continue;
    if (left === null) delete items[slot];
    else items[slot] = left;
  }
  const tests = draft.tests.filter((test) => Object.keys(fields).some((key) => key.startsWith(`${test.id}:`)));
  return { ...draft, fields, items, tests };
}

/**
 * The visit as it would be with everything that is typed and readable: what the judgement on the spot looks at.
 *
 * @param {Page} page
 * @param {Rulebook} rulebook
 * @returns {Visit}
 */
export function provisional(page, rulebook) {
  let count = 0;
  const make = () => `draft-${(count += 1)}`;
  const bodies = stepsOf(rulebook).flatMap((step) => changesOf(page, step, rulebook, make).bodies);
  if (bodies.length === 0) return page.visit;
  if (page.ops.length === 0) bodies.unshift(openingOp(page, rulebook.kinds));
  const last = page.ops.at(-1);
  const stamp = { visit: page.id, device: last?.device ?? "0", schema: 1, at: last?.at ?? 0, tz: 0 };
  const first = Number.MAX_SAFE_INTEGER - bodies.length;
  const typed = bodies.map((body, index) => ({ ...body, ...stamp, id: make(), seq: first + index }));
  return fold([...page.ops, ...typed], rulebook.kinds);
}
