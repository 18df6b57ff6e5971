// The rows of a maker's chart as a table that fits a phone: a column for each quantity, both ends of a range in a cell.
// DOM only: what the cells come to is visit/chart.js. All figures of one quantity have one unit, which stands above.

import { ROWS_MOST, rowsIn } from "../visit/chart.js";
import { chartFieldsOf } from "../visit/steps.js";
import { button, el, setText } from "./elements.js";
import { follow, goOn, OFFERED, understood } from "./fields.js";
import { say, unitWord } from "../language/words.js";

const QUANTITIES = ["temperature", "pressure"];

/**
 * The fields by column: each range is one, and what stands under the outside air is its humidity.
 *
 * @param {Field[]} fields
 * @returns {Field[][]}
 */
function columnsOf(fields) {
  /** @type {Map<string, Field[]>} */
  const columns = new Map();
  for (const field of fields) {
    const name = field.path[0] === "humidity_pct" ? fields[0].path[0] : field.path[0];
    columns.set(name, [...(columns.get(name) ?? []), field]);
  }
  return [...columns.values()];
}

/**
 * One cell: a figure without a unit of its own; what is wrong with it is said under the table.
 *
 * @param {Field} field
 * @param {Source} source
 * @param {Rulebook} rulebook
 */
function cellInput(field, source, rulebook) {
  const input = el("input", {
    type: "text", inputmode: "decimal", autocomplete: "off", class: "number", "aria-label": field.label,
    placeholder: "\u2013", value: source.get().text, on: { keydown: goOn },
  });
  input.addEventListener("input", () => source.set({ text: input.value, unit: source.get().unit }));
  const refresh = () => {
    follow(input, source.get().text);
    input.setAttribute("aria-invalid", String(understood(field, source.get(), rulebook).fault !== null));
  };
  return { root: input, refresh };
}

/**
 * The keys that turn all figures of a quantity into another unit.
 *
 * @param {CellsOfChart} cells
 */
function unitKeys(cells) {
  const keys = QUANTITIES.map((quantity) => {
    const units = OFFERED[quantity];
    const unitNow = () => cells.unitOf(quantity) ?? "";
    const key = button("", () => {
      const next = units[(units.indexOf(unitNow()) + 1) % units.length];
      cells.turn(quantity, next);
      refresh();
    }, { class: "quiet" });
    const refresh = () => setText(key, say(`phone.chart.unit_${quantity}`, { unit: unitWord(quantity, unitNow()) }));
    return { key, refresh };
  });
  return {
    root: el("div", { class: "ways" }, keys.map(({ key }) => key)),
    refresh: () => keys.forEach((one) => one.refresh()),
  };
}

/**
 * The table, and a way to another row.
 *
 * @param {CellsOfChart} cells
 * @param {Tools} tools
 */
export function chartTable(cells, tools) {
  const asked = chartFieldsOf(tools.rulebook);
  const columns = columnsOf(asked.row);
  /** @param {Field[]} fields */
  const head = (fields) => {
    const [{ path: [name] }] = fields;
    const under = asked.ranges[name] === undefined ? fields.slice(1) : [];
    const titles = [asked.ranges[name] ?? fields[0].label, ...under.map(({ label, suffix }) => `${label}, ${suffix}`)];
    return el("th", { scope: "col", class: fields[0].side }, titles.map((title) => el("span", null, title)));
  };
  const table = el("table", { class: "cells" }, el("thead", null, el("tr", null, columns.map(head))));
  const units = unitKeys(cells);
  /** @type {ReturnType<typeof cellInput>[]} */
  const inputs = [];
  let count = 0;
  function addRow() {
    const row = count;
    count += 1;
    const made = columns.map((fields) =>
      fields.map((field) => cellInput(field, cells.cell(field, row), tools.rulebook)));
    inputs.push(...made.flat());
    const parts = made.map((column, place) =>
      el("td", { class: columns[place][0].side }, column.map((one) => one.root)));
    table.append(el("tbody", { "aria-label": say("phone.chart.row", { number: row + 1 }) }, el("tr", null, parts)));
    more.hidden = count >= ROWS_MOST;
  }
  const more = button(say("phone.chart.add"), addRow, { class: "quiet" });
  function refresh() {
    while (count < Math.max(1, rowsIn(cells.read()))) addRow();
    units.refresh();
    inputs.forEach((one) => one.refresh());
  }
  return { units: units.root, table, more, refresh };
}
