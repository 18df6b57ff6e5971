// The maker's chart on the vehicle's step: folded, its settings and rows cell by cell, and charts of cars alike to use.
// DOM only: what the cells come to is visit/chart.js, where charts of other cars are found is open_cards.js.

import { cellsOf, inUnitOf, nameOfCell, readChart, rowsIn } from "../visit/chart.js";
import { ROW, ROWS_MOST, SETTINGS } from "../visit/chart.js";
import { button, el, foldedParts, say } from "./elements.js";
import { control } from "./fields.js";
import { counted, faultWords, READ_FAULTS } from "./words.js";

/** "4 rows, manual HA, page 36". @param {Chart} chart */
export const chartWords = ({ rows, source }) => counted(rows.length, "row", "rows") + (source ? `, ${source}` : "");

/**
 * The cells as they stand, and the way to write them.
 *
 * @param {Source} source
 * @param {Tools} tools
 */
function cellsAt(source, tools) {
  let key = "";
  /** @type {ChartCells} */
  let cells = {};
  // Asked for by every cell at every keystroke, and taken apart only where something changed.
  function read() {
    const { text, drafted } = source.get();
    const now = `${drafted} ${JSON.stringify(tools.units())} ${text}`;
    if (now === key) return cells;
    key = now;
    if (text === "") cells = {};
    else cells = drafted ? JSON.parse(text) : cellsOf(JSON.parse(text), tools);
    return cells;
  }
  /** @param {ChartCells} next */
  const write = (next) => source.set({ text: JSON.stringify(next) });
  /** @param {Field} field @param {number} [row] @returns {Source} */
  function cell(field, row) {
    const name = nameOfCell(field, row);
    const get = () => read()[name] ?? { text: "", unit: tools.unitFor(field) };
    /** @param {Entry} entry */
    const set = ({ text, unit = tools.unitFor(field) }) => {
      const before = get();
      const turned = before.text === text && before.unit !== unit && field.quantity;
      write(turned ? inUnitOf(read(), turned, unit, tools.rulebook) : { ...read(), [name]: { text, unit } });
    };
    return { get, set };
  }
  return { read, write, cell };
}

/**
 * One row of the chart: both ends of a range side by side, and what is wrong with it.
 *
 * @param {number} row
 * @param {ReturnType<typeof cellsAt>} cells
 * @param {Tools} tools
 * @returns {{root: HTMLElement, refresh: (sight: FieldSight, faults: ChartFault[]) => void}}
 */
function chartRow(row, cells, tools) {
  const controls = ROW.map((field) => control(field, cells.cell(field, row), tools));
  const fault = el("p", { class: "fault", role: "status" });
  const title = `Row ${row + 1}`;
  const roots = controls.map((one, place) => {
    const [, end] = one.field.path;
    if (end === undefined) return one.root;
    return end === "0" ? el("div", { class: "pair" }, one.root, controls[place + 1].root) : null;
  });
  const root = el("div", { role: "group", "aria-label": title }, el("h3", null, title), roots, fault);
  return {
    root,
    refresh: (sight, faults) => {
      controls.forEach((one) => one.refresh(sight));
      const mine = faults.filter((one) => one.row === row && TOGETHER.includes(one.code));
      say(fault, mine.map(({ label, code }) => `${label}: ${READ_FAULTS[code]}`).join(" "));
    },
  };
}

// What is wrong with several cells together; what is wrong with one is said under it.
const TOGETHER = ["half_range", "range_reversed", "no_ambient"];

/**
 * The charts of other cars of that make, model and year, each one tap away while there is none yet.
 *
 * @param {ReturnType<typeof cellsAt>} cells
 * @param {Tools} tools
 * @returns {Part}
 */
function offered(cells, tools) {
  const root = el("div", { class: "offers", role: "group", "aria-label": "Charts of the same make, model and year" });
  let key = "";
  /** @param {Sight} sight */
  function refresh({ visit: { vehicle } }) {
    const { make, model, year } = vehicle ?? {};
    const isEmpty = Object.values(cells.read()).every(({ text }) => text === "");
    const wanted = isEmpty ? [year, make, model].join(" ") : "";
    if (wanted === key) return;
    key = wanted;
    /** @param {Chart[]} charts */
    const show = (charts) => {
      if (wanted !== key) return;
      root.replaceChildren(...charts.map((chart) => {
        const use = () => cells.write(cellsOf(chart, tools));
        return button(`Use the chart of another ${wanted}: ${chartWords(chart)}`, use, { class: "quiet" });
      }));
    };
    if (wanted === "") show([]);
    else tools.chartsLike(vehicle).then(show, (error) => tools.say(faultWords(error), "wrong"));
  }
  return { root, refresh };
}

/**
 * @param {Field} field
 * @param {Source} source
 * @param {Tools} tools
 * @returns {Part}
 */
export function chartField(field, source, tools) {
  const cells = cellsAt(source, tools);
  const offers = offered(cells, tools);
  const settings = SETTINGS.map((one) => control(one, cells.cell(one), tools));
  const fault = el("p", { class: "fault", role: "status" });
  const table = el("div");
  /** @type {ReturnType<typeof chartRow>[]} */
  let rows = [];
  let count = 1;
  /** @type {FieldSight} */
  let seen = { meaning: () => null };

  function drawRows() {
    rows = Array.from({ length: count }, (_, row) => chartRow(row, cells, tools));
    table.replaceChildren(...rows.map((row) => row.root));
  }
  const more = button("Another row", () => {
    count += 1;
    refreshRows();
    rows.at(-1)?.root.querySelector("input")?.focus();
  }, { class: "quiet" });

  function refreshRows() {
    const { faults } = readChart(cells.read(), tools.rulebook);
    count = Math.max(count, rowsIn(cells.read()));
    if (rows.length !== count) drawRows();
    rows.forEach((row) => row.refresh(seen, faults));
    more.hidden = count >= ROWS_MOST;
    say(fault, faults.some(({ code }) => code === "no_rows") ? READ_FAULTS.no_rows : "");
  }
  function words() {
    const { faults, value } = readChart(cells.read(), tools.rulebook);
    if (value === null) return ["not entered"];
    return [...(faults.length === 0 ? [] : ["not complete yet"]), chartWords(value)];
  }
  const below = { root: el("div", null, table, fault, more), refresh: refreshRows };
  const inside = foldedParts(field.label, [...settings, below], words, false);
  return {
    root: el("div", null, offers.root, inside.root),
    refresh: (sight) => {
      seen = sight;
      offers.refresh(sight);
      inside.refresh(sight);
    },
  };
}
