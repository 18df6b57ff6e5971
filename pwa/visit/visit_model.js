// The page of one visit: what is filed away in operations, what is typed but not yet kept, and the step between them.
// Pure: no screen, no store, no clock; ids and times are handed in.

import { entryOf, valueOf } from "./number_input.js";
import { canonical, escaped, fold, leaves, replay } from "../kernel.js";
import { entries, STEPS } from "./steps.js";

export const emptyDraft = (visit, startedAt) => ({ visit, started_at: startedAt, fields: {}, items: {}, tests: [] });

// An open page: {id, ops, visit, heads, conflicts, draft, opening}. `opening` is the body of the operation that opens
// the visit, needed only while none is kept yet.
export function openPage(id, ops, draft, opening, kinds) {
  const page = { id, ops, draft: draft ?? emptyDraft(id, opening.started_at), opening };
  return refold(page, ops, kinds);
}

export function refold(page, ops, kinds) {
  const { visit, heads, conflicts } = replay(ops, kinds);
  const shown = ops.length > 0 ? visit : { id: page.id, schema: 1, ...page.opening };
  return Object.assign(page, { ops, visit: shown, heads, conflicts });
}

const at = (node, path) => path.reduce((found, key) => (found === undefined || found === null ? undefined : found[key]), node);

export const valueAt = at;

// The test a step writes to: the last one of its role, kept or only drafted; undefined before the first keystroke.
export function testOf(page, role) {
  const all = [...(page.visit.tests ?? []), ...page.draft.tests.filter((test) => !kept(page, test.id))];
  return all.filter((test) => test.role === role).at(-1);
}

const kept = (page, id) => (page.visit.tests ?? []).some((test) => test.id === id);

// Where a field lives: {key} in the draft, {pointer, typed} in the visit. `test` is null for fields of the visit.
function placeOf(field, test) {
  const name = field.path.at(-1);
  if (test === null) {
    return { key: field.path.join("."), pointer: pointerOf(field.path), typed: pointerOf(["typed", field.path.join(".")]) };
  }
  const path = ["tests", test, ...field.path];
  return { key: `${test}:${field.path.join(".")}`, pointer: pointerOf(path), typed: pointerOf(["typed", `${test}.${name}`]) };
}

const pointerOf = (path) => path.map((part) => "/" + escaped(part)).join("");

const headOf = (page, pointer) => page.heads[pointer]?.[0] ?? null;

// What the field shows: the draft's text where there is one, else what is kept.
export function entryFor(page, step, field, unit, rulebook) {
  const test = step.role === undefined ? null : testOf(page, step.role);
  if (test === undefined) return { text: "", unit };
  const place = placeOf(field, test === null ? null : test.id);
  const drafted = page.draft.fields[place.key];
  if (drafted !== undefined) return { text: drafted.text, unit: drafted.unit ?? unit, drafted: true };
  const root = test === null ? page.visit : (page.visit.tests ?? []).find((one) => one.id === test.id);
  const name = test === null ? field.path.join(".") : `${test.id}.${field.path.at(-1)}`;
  return entryOf(field, at(root, field.path), (page.visit.typed ?? {})[name], unit, rulebook);
}

// Takes a keystroke into the draft. `fresh` is {id, at} for a test that has to be begun by it.
export function typeInto(page, step, field, entry, fresh) {
  let test = step.role === undefined ? null : testOf(page, step.role);
  if (test === undefined) {
    test = { id: fresh.id, role: step.role, at: fresh.at };
    page.draft.tests.push(test);
  }
  const place = placeOf(field, test === null ? null : test.id);
  const before = page.draft.fields[place.key];
  const seen = before?.seen ?? { [place.pointer]: headOf(page, place.pointer), [place.typed]: headOf(page, place.typed) };
  page.draft.fields[place.key] = { text: entry.text, unit: entry.unit, seen };
}

// The kept item a list entry stands for: the last with its code or kind, or the last of its list.
export function itemOf(page, item) {
  if (item.repeated === true) return (page.visit[item.list] ?? []).find((one) => one.id === item.slot);
  const fits = (one) => Object.entries(item.base).every(([name, value]) => one[name] === value);
  return (page.visit[item.list] ?? []).filter(fits).at(-1);
}

const slotOf = (item) => `${item.list}/${item.slot}`;

export function itemEntry(page, item, field, unit, rulebook) {
  const drafted = page.draft.items[slotOf(item)]?.fields[field.path.join(".")];
  if (drafted !== undefined) return { text: drafted.text, unit: drafted.unit ?? unit, drafted: true };
  const found = itemOf(page, item);
  if (found === undefined) return { text: "", unit };
  return entryOf(field, at(found, field.path), (page.visit.typed ?? {})[`${found.id}.${field.path.at(-1)}`], unit, rulebook);
}

export const itemIsOn = (page, item) => page.draft.items[slotOf(item)]?.on ?? itemOf(page, item) !== undefined;

export function typeIntoItem(page, item, field, entry, when) {
  const before = page.draft.items[slotOf(item)] ?? { at: when, fields: {} };
  const fields = { ...before.fields };
  if (field !== null) {
    const name = field.path.join(".");
    const seen = fields[name]?.seen ?? headOf(page, pointerOf([item.list, item.slot, ...field.path]));
    fields[name] = { text: entry.text, unit: entry.unit, seen };
  }
  page.draft.items[slotOf(item)] = { ...before, on: entry.on ?? true, fields };
}

export const hasDraft = (draft) => Object.keys(draft.fields).length > 0 || Object.keys(draft.items).length > 0;

// The list entries a step asks: one for each code of the vocabularies it names, and its own.
export function itemsOf(step, rulebook) {
  const listed = (step.listed ?? []).flatMap(([vocabulary, make]) => rulebook.vocabularies[vocabulary].map(make));
  return [...listed, ...step.items];
}

// The entries of a list that may be repeated: the kept ones by their id, then those that are only typed.
export function repeatedOf(page, { list, make }) {
  const kept = (page.visit[list] ?? []).map((one) => one.id);
  const typed = Object.keys(page.draft.items).filter((slot) => slot.startsWith(`${list}/`)).map((slot) => slot.slice(list.length + 1));
  return [...kept, ...typed.filter((slot) => !kept.includes(slot))].map(make);
}

const allItems = (page, step, rulebook) => [...itemsOf(step, rulebook), ...(step.repeated === undefined ? [] : repeatedOf(page, step.repeated))];

const same = (one, other) => JSON.stringify(one ?? null) === JSON.stringify(other ?? null);

function put(tree, path, value) {
  let node = tree;
  for (const key of path.slice(0, -1)) node = node[key] ??= {};
  node[path.at(-1)] = value;
}

// Takes a leaf out of a tree, and the object it stood in where that is empty then.
function drop(tree, [key, ...rest]) {
  if (tree[key] === undefined) return;
  if (rest.length > 0) drop(tree[key], rest);
  if (rest.length === 0 || isEmpty(tree[key])) delete tree[key];
}

// Collects what one scope (the visit, or one test) sets; `typedName` names a field among the typed texts.
function scopeChanges(page, fields, test, root, rulebook) {
  const found = { body: {}, base: {}, used: [], faults: [] };
  for (const field of entries(fields)) {
    const place = placeOf(field, test);
    const entry = page.draft.fields[place.key];
    if (entry === undefined) continue;
    const read = valueOf(field, entry, rulebook);
    if (read.fault !== undefined) {
      found.faults.push(place.key);
      continue;
    }
    found.used.push([place.key, entry]);
    const name = field.path.at(-1);
    const typedName = test === null ? field.path.join(".") : `${test}.${name}`;
    if (!same(read.value, at(root, field.path))) {
      put(found.body, field.path, read.value);
      found.base[place.pointer] = entry.seen[place.pointer] ?? null;
    }
    if (read.typed !== undefined && !same(read.typed, (page.visit.typed ?? {})[typedName])) {
      put(found.body, ["typed", test === null ? typedName : name], read.typed);
      found.base[place.typed] = entry.seen[place.typed] ?? null;
    }
  }
  return found;
}

const isEmpty = (object) => Object.keys(object).length === 0;

// Clearing what was never set is no change.
function withoutIdleNulls(tree) {
  const kept = {};
  for (const [key, value] of Object.entries(tree)) {
    if (value === null) continue;
    const inner = typeof value === "object" && !Array.isArray(value) ? withoutIdleNulls(value) : value;
    if (typeof inner !== "object" || Array.isArray(inner) || !isEmpty(inner)) kept[key] = inner;
  }
  return kept;
}

function testChanges(page, step, rulebook) {
  const test = testOf(page, step.role);
  if (test === undefined) return { bodies: [], used: [], faults: [] };
  const old = (page.visit.tests ?? []).find((one) => one.id === test.id);
  const found = scopeChanges(page, step.fields, test.id, old ?? {}, rulebook);
  if (old !== undefined) {
    const bodies = isEmpty(found.body) ? [] : [{ kind: "reading.set", base: found.base, body: { id: test.id, ...found.body } }];
    return { bodies, used: found.used, faults: found.faults };
  }
  const body = withoutIdleNulls(found.body);
  const bodies = isEmpty(body) ? [] : [{ kind: "test.add", base: {}, body: { id: test.id, role: test.role, at: test.at, ...body } }];
  return { bodies, used: found.used, faults: found.faults };
}

function visitChanges(page, step, rulebook) {
  const { body, base, used, faults } = scopeChanges(page, step.fields, null, page.visit, rulebook);
  return { bodies: isEmpty(body) ? [] : [{ kind: "visit.set", base, body }], used, faults };
}

// A kept line of a bill is set anew where it stands, leaf by leaf, so that it keeps its place.
function lineChange(item, old, draft, rulebook) {
  const change = { kind: "charge.set", base: {}, body: { id: old.id } };
  const left = {};
  for (const field of item.fields) {
    const name = field.path.join(".");
    const entry = draft.fields[name];
    const read = entry === undefined ? {} : valueOf(field, entry, rulebook);
    if (read.fault !== undefined) left[name] = entry;
    else if (entry !== undefined && !same(read.value, old[name])) {
      change.body[name] = read.value;
      change.base[pointerOf([item.list, old.id, name])] = entry.seen ?? null;
    }
  }
  const holds = item.fields.some(({ path }) => ({ ...old, ...change.body })[path[0]] != null);
  return { change: isEmpty(change.base) ? [] : [change], left: isEmpty(left) ? null : { ...draft, fields: left }, holds };
}

function itemChange(page, item, draft, rulebook, make) {
  const old = itemOf(page, item);
  const strike = old === undefined ? [] : [{ kind: "item.strike", base: {}, body: { list: item.list, id: old.id } }];
  if (draft.on === false) return { bodies: strike, left: null };
  if (item.repeated === true && old !== undefined) {
    const { change, left, holds } = lineChange(item, old, draft, rulebook);
    return { bodies: holds ? change : strike, left };
  }
  const id = make();
  const body = { ...structuredClone(old ?? {}), id, ...item.base };
  if (item.timed === true) body.at = old?.at ?? draft.at;
  const typed = {};
  const left = {};
  for (const field of item.fields) {
    const name = field.path.join(".");
    const entry = draft.fields[name];
    const before = old === undefined ? undefined : (page.visit.typed ?? {})[`${old.id}.${field.path.at(-1)}`];
    const read = entry === undefined ? { value: at(old, field.path) ?? null, typed: before } : valueOf(field, entry, rulebook);
    if (read.fault !== undefined) left[name] = entry;
    else if (read.value === null) drop(body, field.path);
    else put(body, field.path, read.value);
    if (read.fault === undefined && read.typed) typed[`${id}.${field.path.at(-1)}`] = read.typed;
  }
  const remaining = isEmpty(left) ? null : { ...draft, fields: left };
  const holds = item.fields.some((field) => at(body, field.path) !== undefined);
  if (!BARE.includes(item.list) && !holds) return { bodies: strike, left: remaining };
  const bare = ({ id: _, ...rest }) => rest;
  if (old !== undefined && canonical(bare(old)) === canonical(bare(body))) return { bodies: [], left: remaining };
  const bodies = [...strike, { kind: `${ADD[item.list]}.add`, base: {}, body }];
  if (!isEmpty(typed)) bodies.push(typedOf(typed));
  return { bodies, left: remaining };
}

const ADD = { work: "work", checks: "check", rests: "rest", advice: "advice", consent: "consent", refrigerant_moves: "move", charges: "charge" };

// Lists whose entries say something by standing there, even with nothing more written about them.
const BARE = ["work", "consent", "refrigerant_moves"];

function typedOf(typed) {
  const base = {};
  for (const name of Object.keys(typed)) base[pointerOf(["typed", name])] = null;
  return { kind: "visit.set", base, body: { typed } };
}

function itemChanges(page, step, rulebook, make) {
  const found = { bodies: [], items: [], faults: [] };
  for (const item of allItems(page, step, rulebook)) {
    const draft = page.draft.items[slotOf(item)];
    if (draft === undefined) continue;
    const { bodies, left } = itemChange(page, item, draft, rulebook, make);
    found.bodies.push(...bodies);
    found.items.push([slotOf(item), draft, left]);
    if (left !== null) found.faults.push(slotOf(item));
  }
  return found;
}

// What leaving a step writes: {bodies: [{kind, base, body}], used, items, faults}; only changed leaves, never a text
// that is no value (those are named in `faults`). `make` gives ids for new list items.
export function changesOf(page, step, rulebook, make) {
  const scope = step.role === undefined ? visitChanges(page, step, rulebook) : testChanges(page, step, rulebook);
  const items = itemChanges(page, step, rulebook, make);
  return {
    bodies: [...scope.bodies, ...items.bodies],
    used: scope.used,
    items: items.items,
    faults: [...scope.faults, ...items.faults],
  };
}

export function openingOp(page, kinds) {
  const base = {};
  for (const [pointer] of leaves(page.opening, "visit.open", kinds)) base[pointer] = null;
  return { kind: "visit.open", base, body: page.opening };
}

// The draft that is left once those changes are kept: whatever was typed since, and texts that are no value.
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

// The visit as it would be with everything that is typed and readable: what the judgement on the spot looks at.
export function provisional(page, rulebook) {
  let count = 0;
  const make = () => `draft-${(count += 1)}`;
  const bodies = STEPS.flatMap((step) => changesOf(page, step, rulebook, make).bodies);
  if (bodies.length === 0) return page.visit;
  if (page.ops.length === 0) bodies.unshift(openingOp(page, rulebook.kinds));
  const last = page.ops.at(-1);
  const device = last?.device ?? "0";
  const typed = bodies.map((body, index) => ({
    ...body, id: make(), visit: page.id, device, schema: 1, seq: Number.MAX_SAFE_INTEGER - bodies.length + index, at: last?.at ?? 0, tz: 0,
  }));
  return fold([...page.ops, ...typed], rulebook.kinds);
}
