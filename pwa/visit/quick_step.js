// The quick test as a step of its visit: which cells its table has, which comes next, what a key makes of a text.
// Pure: no screen, no store; it asks fields of the steps that have them, so nothing is asked twice and nothing is new.

import { say } from "../language/words.js";
import { fieldNamed, stepOf } from "./steps.js";

/** @typedef {import("../kernel.js").UnitQuestion} UnitQuestion */

export const QUICK = "quick";
export const COLUMNS = /** @type {const} */ (["before", "after"]);

/**
 * A row of the table: its field, the other end where it swings, what is derived from it.
 *
 * @typedef {object} QuickRow
 * @property {string} code of its words
 * @property {string} path
 * @property {string} [most] the field of the upper end
 * @property {"low" | "high"} [side]
 * @property {string[]} [derived]
 * @property {string} [strip] the quantity that is drawn against its yardsticks
 * @property {boolean} [same] whether After may say that it is as before
 */

/** @typedef {{row: QuickRow, column: typeof COLUMNS[number]}} QuickCell */

/** @type {QuickRow[]} */
export const FIRST = [
  { code: "ambient", path: "conditions.ambient_c", same: true },
  {
    code: "low", path: "readings.low_kpa_g", most: "readings.low_max_kpa_g", side: "low",
    derived: ["low_saturation_c"], strip: "low_saturation_c",
  },
  {
    code: "high", path: "readings.high_kpa_g", most: "readings.high_max_kpa_g", side: "high",
    derived: ["high_saturation_c", "condenser_split_k"], strip: "condenser_split_k",
  },
  { code: "vent", path: "readings.vent_c", strip: "vent_c" },
];

/** @type {QuickRow[]} */
export const MORE = [
  { code: "return_air", path: "readings.return_air_c" },
  { code: "humidity", path: "conditions.humidity_pct", same: true },
  { code: "rpm", path: "conditions.rpm", same: true },
  { code: "suction", path: "readings.suction_line_c" },
  { code: "liquid", path: "readings.liquid_line_c" },
  { code: "discharge", path: "readings.discharge_line_c" },
];

// What the quick test may write, by the steps that ask it elsewhere.
const COVERED = ["customer", "vehicle", "before", "after"];

/**
 * The step of the quick test; leaving it keeps what those that it covers hold.
 *
 * @param {Rulebook} rulebook
 * @returns {Step}
 */
export const quickStep = (rulebook) => ({
  slug: QUICK, title: say("quick.title"), fields: [], items: [],
  covers: COVERED.map((slug) => stepOf(slug, rulebook)),
});

/** The field of that path in a step. @param {string} path @param {Step} step */
export const fieldIn = (path, step) => /** @type {Field} */ (fieldNamed(step.fields, path));

/** The cells in the order in which they are read: all before the work, then all after it. @param {QuickRow[]} rows */
export const cellsOf = (rows) => COLUMNS.flatMap((column) => rows.map((row) => ({ row, column })));

/**
 * The cell to go on with: the first empty one behind that at hand, or of all where none is; null where none is left.
 *
 * @param {QuickCell[]} cells
 * @param {QuickCell | null} at
 * @param {(cell: QuickCell) => boolean} isEmpty
 */
export function nextCell(cells, at, isEmpty) {
  const from = at === null ? 0 : cells.findIndex((cell) => isSame(cell, at)) + 1;
  return cells.slice(from).find(isEmpty) ?? null;
}

/** @param {QuickCell} one @param {QuickCell | null} other */
export const isSame = (one, other) => other !== null && one.column === other.column && one.row.code === other.row.code;

const LONGEST = 8;

/**
 * A text with one more key pressed.
 *
 * @param {string} text
 * @param {string} key a digit, "point" or "erase"
 * @param {string} mark the decimal mark of the language
 */
export function pressed(text, key, mark) {
  if (key === "erase") return text.slice(0, -1).replace(/^-$/, "");
  if (text.length >= LONGEST) return text;
  if (key !== "point") return text + key;
  if (/[.,]/.test(text)) return text;
  return (/\d$/.test(text) ? text : `${text}0`) + mark;
}

/**
 * An entry with its sign turned. A dial in psi has its vacuum in inches of mercury, so its unit turns with the sign.
 *
 * @param {Entry} entry
 * @returns {Entry}
 */
export function turned({ text, unit }) {
  const isBelow = text.startsWith("-");
  /** @type {Record<string, string>} */
  const units = isBelow ? { inhg: "psi" } : { psi: "inhg" };
  return { text: isBelow ? text.slice(1) : `-${text}`, unit: units[unit ?? ""] ?? unit };
}
