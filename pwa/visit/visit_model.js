// The page of one visit: what is filed away in operations, what is typed but not yet kept, and the step between them.
// Pure: no screen, no store, no clock; ids and times are handed in.

import { entryOf } from "./number_input.js";
import { escaped, leaves, replay } from "../kernel.js";

/** @param {string} visit @param {string} startedAt @returns {Draft} */
export const emptyDraft = (visit, startedAt) => ({ visit, started_at: startedAt, fields: {}, items: {}, tests: [] });

/**
 * An open page.
 *
 * @param {string} id
 * @param {Op[]} ops
 * @param {Draft | undefined} draft
 * @param {Opening} opening the body of the operation that opens the visit, needed only while none is kept yet
 * @param {Kinds} kinds
 * @returns {Page}
 */
export function openPage(id, ops, draft, opening, kinds) {
  return refold({ id, draft: draft ?? emptyDraft(id, opening.started_at), opening }, ops, kinds);
}

/**
 * The page rebuilt from these operations; what is typed stays as it is.
 *
 * @template {Pick<Page, "id" | "draft" | "opening">} P
 * @param {P} page
 * @param {Op[]} ops
 * @param {Kinds} kinds
 * @returns {P & Page} the same object
 */
export function refold(page, ops, kinds) {
  const { visit, heads, conflicts } = replay(ops, kinds);
  const blank = /** @type {Visit} */ ({ id: page.id, schema: 1, ...page.opening });
  return Object.assign(page, { ops, visit: ops.length > 0 ? visit : blank, heads, conflicts });
}

/** @param {any} node @param {string[]} path @returns {any} */
export const valueAt = (node, path) => path.reduce((inner, key) => inner?.[key], node);

/** The name of a field in the object that it stands in. @param {Field} field */
export const nameOf = (field) => field.path[field.path.length - 1];

/**
 * The test a step writes to: the last one of its role, kept or only drafted; undefined before the first keystroke.
 *
 * @param {Page} page
 * @param {string | undefined} role
 * @returns {{id: string, role: string, at: string} | undefined}
 */
export function testOf(page, role) {
  const all = [...(page.visit.tests ?? []), ...page.draft.tests.filter((test) => !isKept(page, test.id))];
  return all.filter((test) => test.role === role).at(-1);
}

/** @param {Page} page @param {string} id */
const isKept = (page, id) => (page.visit.tests ?? []).some((test) => test.id === id);

/**
 * Where a field lives: {key} in the draft, {pointer, typed} in the visit. `test` is null for fields of the visit.
 *
 * @param {Field} field
 * @param {string | null} test
 */
export function placeOf(field, test) {
  const name = field.path.join(".");
  if (test === null) return { key: name, pointer: pointerOf(field.path), typed: pointerOf(["typed", name]) };
  return {
    key: `${test}:${name}`,
    pointer: pointerOf(["tests", test, ...field.path]),
    typed: pointerOf(["typed", `${test}.${nameOf(field)}`]),
  };
}

/** @param {string[]} path */
export const pointerOf = (path) => path.map((part) => "/" + escaped(part)).join("");

/** @param {Page} page @param {string} pointer */
const headOf = (page, pointer) => page.heads[pointer]?.[0] ?? null;

/**
 * What the field shows: the draft's text where there is one, else what is kept.
 *
 * @param {Page} page
 * @param {Step} step
 * @param {Field} field
 * @param {string | undefined} unit
 * @param {Rulebook} rulebook
 * @returns {Entry}
 */
export function entryFor(page, step, field, unit, rulebook) {
  const test = step.role === undefined ? null : testOf(page, step.role);
  if (test === undefined) return { text: "", unit };
  const place = placeOf(field, test === null ? null : test.id);
  const drafted = page.draft.fields[place.key];
  if (drafted !== undefined) {
    return { text: drafted.text, unit: drafted.unit ?? unit, drafted: true, sure: drafted.sure };
  }
  const root = test === null ? page.visit : (page.visit.tests ?? []).find((one) => one.id === test.id);
  const name = test === null ? field.path.join(".") : `${test.id}.${nameOf(field)}`;
  return entryOf(field, valueAt(root, field.path), page.visit.typed?.[name], unit, rulebook);
}

/** @param {Page} page @param {string} role @param {{id: string, at: string}} fresh */
function newTest(page, role, { id, at }) {
  const test = { id, role, at };
  page.draft.tests.push(test);
  return test;
}

/**
 * Takes a keystroke into the draft. `fresh` is {id, at} for a test that has to be begun by it.
 *
 * @param {Page} page
 * @param {Step} step
 * @param {Field} field
 * @param {Entry} entry
 * @param {{id: string, at: string}} fresh
 */
export function typeInto(page, step, field, entry, fresh) {
  const test = step.role === undefined ? null : (testOf(page, step.role) ?? newTest(page, step.role, fresh));
  const place = placeOf(field, test === null ? null : test.id);
  const sight = () => ({ [place.pointer]: headOf(page, place.pointer), [place.typed]: headOf(page, place.typed) });
  const seen = page.draft.fields[place.key]?.seen ?? sight();
  page.draft.fields[place.key] = { text: entry.text, unit: entry.unit, seen, ...(entry.sure && { sure: true }) };
}

/**
 * The kept item a list entry stands for: the last with its code or kind, or the last of its list.
 *
 * @param {Page} page
 * @param {Item} item
 * @returns {ListEntry | undefined}
 */
export function itemOf(page, item) {
  if (item.repeated === true) return (page.visit[item.list] ?? []).find((one) => one.id === item.slot);
  /** @param {ListEntry} one */
  const fits = (one) => Object.entries(item.base).every(([name, value]) => one[name] === value);
  return (page.visit[item.list] ?? []).filter(fits).at(-1);
}

/** @param {Item} item */
export const slotOf = (item) => `${item.list}/${item.slot}`;

/**
 * @param {Page} page
 * @param {Item} item
 * @param {Field} field
 * @param {string | undefined} unit
 * @param {Rulebook} rulebook
 * @returns {Entry}
 */
export function itemEntry(page, item, field, unit, rulebook) {
  const drafted = page.draft.items[slotOf(item)]?.fields[field.path.join(".")];
  if (drafted !== undefined) return { text: drafted.text, unit: drafted.unit ?? unit, drafted: true };
  const entry = itemOf(page, item);
  if (entry === undefined) return { text: "", unit };
  const typed = page.visit.typed?.[`${entry.id}.${nameOf(field)}`];
  return entryOf(field, valueAt(entry, field.path), typed, unit, rulebook);
}

/** @param {Page} page @param {Item} item */
export const itemIsOn = (page, item) => page.draft.items[slotOf(item)]?.on ?? itemOf(page, item) !== undefined;

/**
 * @param {Page} page
 * @param {Item} item
 * @param {Field | null} field
 * @param {Partial<Entry>} entry
 * @param {string} when
 */
export function typeIntoItem(page, item, field, entry, when) {
  const before = page.draft.items[slotOf(item)] ?? { at: when, fields: {} };
  const fields = { ...before.fields };
  if (field !== null) {
    const name = field.path.join(".");
    const seen = fields[name]?.seen ?? headOf(page, pointerOf([item.list, item.slot, ...field.path]));
    fields[name] = { text: entry.text ?? "", unit: entry.unit, seen };
  }
  page.draft.items[slotOf(item)] = { ...before, on: entry.on ?? true, fields };
}

/** @param {Pick<Draft, "fields" | "items">} draft */
export const hasDraft = (draft) => Object.keys(draft.fields).length > 0 || Object.keys(draft.items).length > 0;

/**
 * The list entries a step asks: one for each code of the vocabularies it names, and its own.
 *
 * @param {Step} step
 * @param {Rulebook} rulebook
 * @returns {Item[]}
 */
export function itemsOf(step, rulebook) {
  const listed = (step.listed ?? []).flatMap(([vocabulary, make]) => rulebook.vocabularies[vocabulary].map(make));
  return [...listed, ...step.items];
}

/**
 * The entries of a list that may be repeated: the kept ones by their id, then those that are only typed.
 *
 * @param {Page} page
 * @param {Repeated} repeated
 * @returns {Item[]}
 */
export function repeatedOf(page, { list, make }) {
  const ids = (page.visit[list] ?? []).map((one) => one.id);
  const slots = Object.keys(page.draft.items).filter((slot) => slot.startsWith(`${list}/`));
  const typed = slots.map((slot) => slot.slice(list.length + 1));
  return [...ids, ...typed.filter((id) => !ids.includes(id))].map(make);
}

/** @param {Page} page @param {Kinds} kinds @returns {OpBody} */
export function openingOp(page, kinds) {
  /** @type {OpBody["base"]} */
  const base = {};
  for (const [pointer] of leaves(page.opening, "visit.open", kinds)) base[pointer] = null;
  return { kind: "visit.open", base, body: page.opening };
}
