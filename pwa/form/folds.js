// The parts of a test's form folded away under the readings: other readings and photos, what was seen, the note.
// DOM only; which fields are folded is said by the rulebook.

import { entries } from "../visit/steps.js";
import { valueOf } from "../visit/number_input.js";
import { say, term } from "../language/words.js";
import { foldedParts } from "./elements.js";

/** @typedef {(field: Field) => Entry} TextOf */

/** A reading that is folded, in a few words. @param {Field} field @param {string} text */
function readingWords(field, text) {
  const value = field.kind === "choice" ? term(field.vocabulary ?? "", text) : text;
  return say("phone.form.condition", { label: field.label.toLowerCase(), value });
}

/**
 * The readings that are taken less often, and whatever else is handed in; open if one of them holds a slip.
 *
 * @param {FormPart[]} parts
 * @param {Part[]} rest
 * @param {TextOf} textOf
 * @param {Rulebook} rulebook
 */
export function moreBlock(parts, rest, textOf, rulebook) {
  const fields = entries(parts.map(({ field }) => field));
  const words = () => {
    const filled = fields.filter((field) => textOf(field).text !== "");
    if (filled.length === 0) return [say("phone.form.more_of")];
    return filled.map((field) => readingWords(field, textOf(field).text));
  };
  const slips = fields.some((field) => valueOf(field, textOf(field), rulebook).fault !== undefined);
  return foldedParts(say("phone.form.more"), [...parts, ...rest], words, slips, "open");
}

/**
 * What was seen and heard, and the note: many words, asked for seldom.
 *
 * @param {FormPart[]} parts
 * @param {TextOf} textOf
 */
export function notedBlock(parts, textOf) {
  /** @param {string} code */
  const codeName = (code) => term("observed", code);
  const words = () => entries(parts.map(({ field }) => field)).flatMap((field) => {
    const { text } = textOf(field);
    if (text === "") return [];
    if (field.kind !== "codes") return [say("phone.form.remark")];
    return text.split(" ").filter((code) => code !== "").map(codeName);
  });
  return foldedParts(say("phone.form.remarks"), parts, words, false);
}
