// From what a person typed to a value and back: numbers with either decimal mark, texts, codes, yes and no.
// Pure: no screen, no store, no clock; conversion itself is left to the kernel.

import { from_canonical, round_half_away, to_canonical } from "../kernel.js";
import { number as numberText } from "../language/formats.js";

const PLAIN = /^[+-]?(\d{1,12}([.,]\d{0,12})?|[.,]\d{1,12})$/;
const GROUPED = /^[+-]?\d{1,3}([.,\u00a0\u202f ]\d{3})+([.,]\d+)?$/;
const MONEY = /^-?\d{1,12}(\.\d{1,6})?$/;
const MINUS = /^[\u2212\u2013]/;

/**
 * {number, comma, whole} where the text is a number, else {fault: "no_number" | "two_readings"}.
 * A comma is a decimal mark, whether one or three digits follow; the form shows how it was read.
 *
 * @param {string} text
 * @returns {Reading}
 */
export function readNumber(text) {
  const plain = text.trim().replace(MINUS, "-");
  if (PLAIN.test(plain)) {
    const number = Number(plain.replace(",", "."));
    return { number: number === 0 ? 0 : number, comma: plain.includes(","), whole: number === Math.floor(number) };
  }
  return { fault: GROUPED.test(plain) ? "two_readings" : "no_number" };
}

/** @param {string} text */
const texts = (text) => {
  const trimmed = text.trim();
  return { value: trimmed === "" ? null : trimmed };
};

/** @param {Field} field @param {Entry} entry @param {Rulebook} rulebook @returns {Reading} */
function numbers(field, entry, rulebook) {
  if (entry.text.trim() === "") return { value: null, typed: null };
  const read = readNumber(entry.text);
  if (read.fault !== undefined) return { fault: read.fault };
  if (field.integer === true && !read.whole) return { fault: "no_whole_number" };
  if (field.quantity === undefined) return { value: read.number, comma: read.comma, number: read.number };
  const value = to_canonical(field.quantity, entry.unit ?? "", Number(read.number), rulebook);
  return { value, typed: { text: entry.text.trim(), unit: entry.unit }, comma: read.comma, number: read.number };
}

// A compound gauge that shows psi above zero shows inches of mercury below it (common practice, no source).
/** @type {Record<string, string>} */
const BELOW_ZERO = { psi: "inhg" };

/**
 * The unit in which a text is read: the one that its reading has, and that of the settings once the field was emptied.
 * Below zero a low side is read as the gauge shows it.
 *
 * @param {Field} field
 * @param {string} text
 * @param {string | undefined} unit that of what stands in the field
 * @param {string | undefined} standard that of the settings
 */
export function unitOfText(field, text, unit, standard) {
  if (text.trim() === "") return standard;
  const below = field.side === "low" ? BELOW_ZERO[standard ?? ""] : undefined;
  const isBelow = /^\s*[-\u2212\u2013]/.test(text);
  if (below === undefined || (isBelow && unit !== standard)) return unit;
  if (isBelow) return below;
  return unit === below ? standard : unit;
}

/**
 * Money is kept as a decimal text, never as a number: what was typed, with a point.
 *
 * @param {Entry} entry
 * @returns {Reading}
 */
function amounts(entry) {
  const text = entry.text.trim().replace(MINUS, "-").replace(/^\+/, "");
  if (text === "") return { value: null };
  const read = readNumber(text);
  if (read.fault !== undefined) return { fault: read.fault };
  const plain = text.replace(",", ".").replace(/^(-?)\./, "$10.").replace(/\.$/, "");
  return MONEY.test(plain) ? { value: plain, comma: read.comma, number: read.number } : { fault: "no_amount" };
}

/**
 * {value, typed?} to keep, or {fault}. `value` null clears; `typed` is given for fields that have a quantity.
 *
 * @param {Field} field
 * @param {Entry} entry
 * @param {Rulebook} rulebook
 * @returns {Reading}
 */
export function valueOf(field, entry, rulebook) {
  if (field.kind === "number") return numbers(field, entry, rulebook);
  if (field.kind === "money") return amounts(entry);
  if (field.kind === "flag") return { value: { yes: true, no: false }[entry.text] ?? null };
  if (field.kind === "codes") return { value: entry.text === "" ? null : entry.text.split(" ") };
  if (field.kind === "choice" && entry.text === "") return { value: null };
  if (field.kind === "choice") return { value: field.counted === true ? Number(entry.text) : entry.text };
  return texts(field.capitals === true ? entry.text.toUpperCase() : entry.text);
}

/** @param {string} quantity @param {string | undefined} unit @param {Rulebook} rulebook */
const decimalsOf = (quantity, unit, rulebook) => rulebook.units[quantity].units[unit ?? ""].decimals;

/**
 * A value in a unit, as people read it.
 *
 * @param {string} quantity
 * @param {string | undefined} unit
 * @param {number} value
 * @param {Rulebook} rulebook
 */
export const inUnit = (quantity, unit, value, rulebook) =>
  numberText(from_canonical(quantity, unit ?? "", value, rulebook), decimalsOf(quantity, unit, rulebook));

/**
 * The same as a person would type it into a field: with a point, and nothing between thousands.
 *
 * @param {string} quantity
 * @param {string | undefined} unit
 * @param {number} value
 * @param {Rulebook} rulebook
 */
export function plainInUnit(quantity, unit, value, rulebook) {
  const decimals = decimalsOf(quantity, unit, rulebook);
  return round_half_away(from_canonical(quantity, unit ?? "", value, rulebook), decimals).toFixed(decimals);
}

/**
 * What a field shows for a value that is kept: as typed where that is known, else written out in `unit`.
 *
 * @param {Field} field
 * @param {any} value
 * @param {TypedText | null | undefined} typed
 * @param {string | undefined} unit
 * @param {Rulebook} rulebook
 * @returns {Entry}
 */
export function entryOf(field, value, typed, unit, rulebook) {
  if (value === undefined || value === null) return { text: "", unit };
  if (field.kind === "flag") return { text: value ? "yes" : "no", unit };
  if (field.kind === "codes") return { text: value.join(" "), unit };
  if (field.kind === "chart") return { text: JSON.stringify(value) };
  if (field.kind !== "number") return { text: String(value), unit };
  if (typed !== undefined && typed !== null) return { text: typed.text, unit: typed.unit };
  if (field.quantity === undefined ) return { text: String(value), unit };
  return { text: plainInUnit(field.quantity, unit, value, rulebook), unit };
}
