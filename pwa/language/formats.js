// How numbers, days, clocks and lists are written in the phone's language and region, by the browser's own `Intl`.
// Nothing is calculated here: a number is rounded as the rulebook rounds, and no word stands here.

import { round_half_away } from "../kernel.js";

const MINUS = "\u2212";

/** @type {string} */
let region = "en-GB";
/** @type {Map<string, any>} */
const made = new Map();

/** Takes a language tag; English without a region is Britain's. @param {string} tag */
export function useFormats(tag) {
  region = tag === "en" ? "en-GB" : tag;
  made.clear();
}

/**
 * A formatter of this language, made once.
 *
 * @template T
 * @param {string} name
 * @param {() => T} make
 * @returns {T}
 */
function once(name, make) {
  if (!made.has(name)) made.set(name, make());
  return made.get(name);
}

/** @param {number} decimals */
const numberFormat = (decimals) => once(`number ${decimals}`, () => new Intl.NumberFormat(region, {
  minimumFractionDigits: decimals, maximumFractionDigits: decimals, useGrouping: "always",
}));

/** @param {string} name @param {Intl.DateTimeFormatOptions} options */
const dateFormat = (name, options) => once(name, () => new Intl.DateTimeFormat(region, options));

/**
 * A number, rounded half away from zero, its thousands grouped, with a true minus sign.
 *
 * @param {number} value
 * @param {number} decimals
 */
export function number(value, decimals) {
  const rounded = round_half_away(value, decimals);
  return (rounded < 0 ? MINUS : "") + numberFormat(decimals).format(Math.abs(rounded));
}

/** The mark before the decimals of a number. */
export const decimalMark = () => number(0.5, 1).charAt(1);

/** A number with up to three significant digits. @param {number} value */
export function significant(value) {
  const format = once("significant", () => new Intl.NumberFormat(region, { maximumSignificantDigits: 3 }));
  return (value < 0 ? MINUS : "") + format.format(Math.abs(value));
}

/**
 * A decimal number that is kept as text, such as money, digit for digit.
 *
 * @param {string} text such as "-1129.90"
 */
export function exact(text) {
  const plain = /** @type {Intl.StringNumericLiteral} */ (text.replace("-", ""));
  return (text.startsWith("-") ? MINUS : "") + numberFormat(plain.split(".")[1]?.length ?? 0).format(plain);
}

/** A plain number with the language's own decimal sign, nothing between thousands. @param {number} value */
export function undivided(value) {
  const sign = numberFormat(1).formatToParts(1.5).find(({ type }) => type === "decimal")?.value ?? ".";
  return String(value).replace(".", sign);
}

/** 12 June 2026. @param {Date} date */
export const day = (date) => dateFormat("day", { dateStyle: "long" }).format(date);

/** 12 Jun 2026. @param {Date} date */
export const shortDay = (date) => dateFormat("short_day", { dateStyle: "medium" }).format(date);

/** June 2026. @param {Date} date */
export const month = (date) => dateFormat("month", { month: "long", year: "numeric" }).format(date);

/** Friday 12 June. @param {Date} date */
export const weekday = (date) =>
  dateFormat("weekday", { weekday: "long", day: "numeric", month: "long" }).format(date);

/** The hour and minute. @param {Date} date */
export const clock = (date) => dateFormat("clock", { timeStyle: "short" }).format(date);

/** The hour and minute without what a region adds to them, for where there is no room. @param {Date} date */
export const clockDigits = (date) => dateFormat("clock", { timeStyle: "short" }).formatToParts(date)
  .filter(({ type }) => type !== "dayPeriod").map(({ value }) => value).join("").trim();

/** The hour, minute and second. @param {Date} date */
export const clockExact = (date) => dateFormat("exact_clock", { timeStyle: "medium" }).format(date);

/** A time left or overdue, in minutes and seconds. @param {number} ms */
export function countdown(ms) {
  const seconds = ms > 0 ? Math.ceil(ms / 1000) : Math.floor(-ms / 1000);
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

/** Things in a row with a last "and". @param {string[]} items */
export const listed = (items) => once("and", () => new Intl.ListFormat(region)).format(items);

/** Things in a row with a last "or". @param {string[]} items */
export const either = (items) => once("or", () => new Intl.ListFormat(region, { type: "disjunction" })).format(items);

/** The day that a text YYYY-MM-DD means, by its noon, so that no time zone shifts it. @param {string} text */
export const dayAt = (text) => new Date(`${text}T12:00`);
