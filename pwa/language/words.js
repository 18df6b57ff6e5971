// The words of the phone's language: a sentence by its code, its blanks filled and its plural form chosen.
// No sentence stands here, and nothing is fetched, drawn or decided; the words are the rulebook's.

/** @type {WordTree} */
let tree = {};
let plurals = new Intl.PluralRules();

/**
 * Takes the words of a language, once, before the first screen.
 *
 * @param {WordTree} words the books by name
 * @param {string} tag the language's, by whose rules plural forms are chosen
 */
export function useWords(words, tag) {
  tree = words;
  plurals = new Intl.PluralRules(tag);
}

/** @param {string} code @returns {WordTree | string | undefined} */
function find(code) {
  /** @type {WordTree | string | undefined} */
  let found = tree;
  for (const name of code.split(".")) found = typeof found === "object" ? found[name] : undefined;
  return found;
}

/** Whether there is a sentence, or a group of them, under a code. @param {string} code */
export const has = (code) => find(code) !== undefined;

/** The sentence of a code as written; undefined if there is none, or a group. @param {string} code */
export function sentenceAt(code) {
  const found = find(code);
  return typeof found === "string" ? found : undefined;
}

/**
 * A sentence with its blanks filled.
 *
 * @param {string} sentence
 * @param {Record<string, string | number>} values by name
 * @param {string} code which sentence it is
 * @returns {string} throws a RangeError where a blank has no value
 */
export const filled = (sentence, values, code) => sentence.replace(/{(\w+)}/g, (_, name) => {
  if (values[name] === undefined) throw new RangeError(`no ${name} for ${code}`);
  return String(values[name]);
});

/**
 * The sentence of a code, which is book, groups and name joined by dots. The value `count` chooses the plural form.
 *
 * @param {string} code
 * @param {Record<string, string | number>} [values] for the blanks, by name
 * @returns {string} throws a RangeError where there is no such sentence or a blank has no value
 */
export function say(code, values = {}) {
  const found = find(code);
  const sentence = typeof found === "object" ? (found[plurals.select(Number(values.count))] ?? found.other) : found;
  if (typeof sentence !== "string") throw new RangeError(`no words for ${code}`);
  return filled(sentence, values, code);
}

/** The trade's word for a code; a code without one shows as itself. @param {string} group @param {string} code */
export function term(group, code) {
  return sentenceAt(`terms.${group}.${code}`) ?? code.replaceAll("_", " ");
}

// Where the fields of a visit have their labels, by what they belong to.
const SCOPES = ["visit", "rests", "tests", "work", "refrigerant_moves", "charges", "advice"];

/** A label as used within a sentence; capitals that begin an abbreviation stay. @param {string} label */
const within = (label) => (/^\p{Lu}\p{Ll}/u.test(label) ? label.charAt(0).toLowerCase() + label.slice(1) : label);

/** What a field belongs to, for one that has no name of its own. @param {string[]} path */
const belonging = (path) => path.map((part) => sentenceAt(`terms.part.${part}`)).find((one) => one !== undefined);

/**
 * A field's name within a sentence: the trade's word for it, else its label in the form, else what it belongs to. A
 * code is never said.
 *
 * @param {string[]} path names from the visit or from the field's item down to the field, with or without an item's id
 */
export function fieldName(path) {
  const last = path.at(-1) ?? "";
  const scopes = [...path.filter((part) => SCOPES.includes(part)), ...SCOPES];
  const labels = path.flatMap((_, start) =>
    scopes.map((scope) => sentenceAt(`fields.${scope}.${path.slice(start).join(".")}`)));
  const label = labels.find((one) => one !== undefined);
  return sentenceAt(`terms.field.${last}`) ?? (label && within(label)) ?? belonging(path) ?? term("part", "other");
}

/** How a unit is written. @param {string} quantity @param {string | undefined} unit */
export const unitWord = (quantity, unit) => term(`unit.${quantity}`, unit ?? "");
