// The maker's chart of a vehicle, one field of many cells: what each asks for, and what they make together.
// Pure: no screen, no store, no clock; a cell is a text with its unit, as in any other field.

import { valueOf } from "./number_input.js";
import { chartFieldsOf } from "./steps.js";
import { valueAt } from "./visit_model.js";
import { undivided } from "../language/formats.js";
import { from_canonical, put, round_half_away } from "../kernel.js";

export const ROWS_MOST = 12;
const DECIMALS = 4;

/** The name of a cell: of a setting, or of a field in a row. @param {Field} field @param {number} [row] */
export const nameOfCell = ({ path }, row) => (row === undefined ? path : [row, ...path]).join(".");

/** @param {ChartCells} cells */
export const rowsIn = (cells) => Math.max(0, ...Object.keys(cells).map((name) => Number.parseInt(name, 10) + 1 || 0));

/** @param {Field} field @param {any} value @param {string | undefined} unit @param {Rulebook} rulebook */
function cellOf({ quantity }, value, unit, rulebook) {
  const figure = quantity && round_half_away(from_canonical(quantity, unit ?? "", value, rulebook), DECIMALS);
  const text = figure ?? value;
  return { text: typeof text === "number" ? undivided(text) : String(text), unit, value };
}

/**
 * The cells with all figures of one quantity in another unit: a chart has one. What was just typed is read in it, what
 * was kept is written out in it.
 *
 * @param {ChartCells} cells
 * @param {string} quantity
 * @param {string | undefined} unit
 * @param {Rulebook} rulebook
 */
export function inUnitOf(cells, quantity, unit, rulebook) {
  const next = { ...cells };
  for (const [name, cell] of Object.entries(cells)) {
    const field = chartFieldsOf(rulebook).row.find((one) => nameOfCell(one) === name.replace(/^\d+\./, ""));
    if (field?.quantity !== quantity) continue;
    next[name] = cell.value === undefined ? { ...cell, unit } : cellOf(field, cell.value, unit, rulebook);
  }
  return next;
}

/**
 * The cells of a chart that is kept, in the units a person reads. Each holds the value it was kept with: a chart that
 * is changed in one place stays as it was in all others.
 *
 * @param {Chart} chart
 * @param {Pick<Tools, "unitFor" | "rulebook">} tools
 * @returns {ChartCells}
 */
export function cellsOf(chart, { unitFor, rulebook }) {
  /** @type {ChartCells} */
  const cells = {};
  /** @param {Field} field @param {Tree} part @param {number} [row] */
  function write(field, part, row) {
    const value = valueAt(part, field.path) ?? null;
    if (value !== null) cells[nameOfCell(field, row)] = cellOf(field, value, unitFor(field), rulebook);
  }
  const fields = chartFieldsOf(rulebook);
  fields.settings.forEach((field) => write(field, chart));
  chart.rows.forEach((part, row) => fields.row.forEach((field) => write(field, part, row)));
  return cells;
}

/**
 * What the cells of some fields come to; what is wrong with one goes to `faults`.
 *
 * @param {Field[]} fields
 * @param {ChartCells} cells
 * @param {{rulebook: Rulebook, faults: ChartFault[]}} means
 * @param {number} [row]
 */
function partOf(fields, cells, { rulebook, faults }, row) {
  /** @type {Tree} */
  const part = {};
  for (const field of fields) {
    const cell = cells[nameOfCell(field, row)];
    if (cell === undefined) continue;
    const read = cell.value === undefined ? valueOf(field, cell, rulebook) : { value: cell.value };
    if (read.fault !== undefined) faults.push({ row, label: field.label, code: read.fault });
    else if (read.value !== null) put(part, field.path, read.value);
  }
  return part;
}

/**
 * Makes ranges of their ends.
 *
 * @param {Tree} part
 * @param {number} row
 * @param {ChartFields["ranges"]} ranges
 * @param {ChartFault[]} faults
 */
function closeRanges(part, row, ranges, faults) {
  for (const [name, title] of Object.entries(ranges)) {
    if (part[name] === undefined) continue;
    const { 0: low, 1: high } = part[name];
    if (low === undefined || high === undefined) faults.push({ row, label: title, code: "half_range" });
    else if (low > high) faults.push({ row, label: title, code: "range_reversed" });
    part[name] = [low, high];
  }
}

/**
 * The chart that the cells make, null where they make no row; `faults` name a row, or none for the whole, and are all
 * there are. Rows that hold nothing are left out.
 *
 * @param {ChartCells} cells
 * @param {Rulebook} rulebook
 * @returns {{faults: ChartFault[], value: Chart | null}}
 */
export function readChart(cells, rulebook) {
  /** @type {ChartFault[]} */
  const faults = [];
  const fields = chartFieldsOf(rulebook);
  const settings = partOf(fields.settings, cells, { rulebook, faults });
  /** @type {any[]} */
  const rows = [];
  for (let row = 0; row < rowsIn(cells); row += 1) {
    const part = partOf(fields.row, cells, { rulebook, faults }, row);
    closeRanges(part, row, fields.ranges, faults);
    if (Object.keys(part).length === 0) continue;
    if (part.ambient_c === undefined) faults.push({ row, label: fields.row[0].label, code: "no_ambient" });
    rows.push(part);
  }
  if (rows.length === 0 && Object.keys(settings).length > 0) faults.push({ code: "no_rows" });
  return { faults, value: rows.length === 0 ? null : { ...settings, rows } };
}

/** The same as what a field comes to. @param {string} typed @param {Rulebook} rulebook @returns {Reading} */
export function chartReading(typed, rulebook) {
  const { faults, value } = readChart(JSON.parse(typed), rulebook);
  return faults.length > 0 ? { fault: faults[0].code } : { value };
}
