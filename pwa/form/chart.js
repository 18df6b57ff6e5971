// The maker's chart on the vehicle's step: folded, its settings and rows cell by cell, and charts of cars alike to use.
// DOM only: what the cells come to is visit/chart.js, where charts of other cars are found is open_cards.js.

import { cellsOf, nameOfCell, readChart, ROWS_MOST, rowsIn } from "../visit/chart.js";
import { chartFieldsOf } from "../visit/steps.js";
import { button, el, foldedParts, setText } from "./elements.js";
import { control } from "./fields.js";
import { withHelp } from "./help.js";
import { say } from "../language/words.js";
import { faultWords, typedFault } from "./words.js";

/** "4 rows, manual HA, page 36". @param {Chart} chart */
export const chartWords = ({ rows: { length: count }, source = "" }) =>
  say(source ? "phone.chart.rows_source" : "phone.chart.rows", { count, source });

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
    const set = ({ text, unit = tools.unitFor(field) }) => write({ ...read(), [name]: { text, unit } });
    return { get, set };
  }
  return { read, write, cell };
}

/**
 * One row of the chart, both ends of a range side by side.
 *
 * @param {number} row
 * @param {Control[]} controls
 */
function rowOf(row, controls) {
  const title = say("phone.chart.row", { number: row + 1 });
  const roots = controls.map(({ field, root }, place) => {
    const [, end] = field.path;
    return end === "0" ? el("div", { class: "pair" }, root, controls[place + 1].root) : end === undefined && root;
  });
  return el("div", { role: "group", "aria-label": title }, el("h3", null, title), roots);
}

// What is wrong with several cells together; what is wrong with one is said under it.
const TOGETHER = ["half_range", "range_reversed", "no_ambient", "no_rows"];

/** @param {ChartFault} fault */
const faultLine = ({ row, label = "", code }) => {
  const words = typedFault(code);
  if (row === undefined) return words;
  return say("phone.chart.fault", { number: row + 1, field: label.toLowerCase(), words });
};

/**
 * The charts of other cars of that make, model and year, each one tap away while there is none yet.
 *
 * @param {ReturnType<typeof cellsAt>} cells
 * @param {Tools} tools
 * @returns {Part}
 */
function offered(cells, tools) {
  const root = el("div", { class: "offers", role: "group", "aria-label": say("phone.chart.offers") });
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
        return button(say("phone.chart.use", { vehicle: wanted, chart: chartWords(chart) }), use, { class: "quiet" });
      }));
    };
    if (wanted === "") show([]);
    else tools.chartsLike(vehicle).then(show, (error) => tools.tell(faultWords(error), "wrong"));
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
  const asked = chartFieldsOf(tools.rulebook);
  const settings = asked.settings.map((one) => control(one, cells.cell(one), tools));
  const table = el("div");
  const fault = el("p", { class: "fault", role: "status" });
  /** @type {Control[][]} */
  const rows = [];
  const addRow = () => {
    const row = rows.length;
    rows.push(asked.row.map((one) => control(one, cells.cell(one, row), tools)));
    table.append(rowOf(row, rows[row]));
    more.hidden = rows.length >= ROWS_MOST;
  };
  const more = button(say("phone.chart.add"), addRow, { class: "quiet" });
  const known = () => readChart(cells.read(), tools.rulebook);
  /** @param {FieldSight} sight */
  function refresh(sight) {
    while (rows.length < Math.max(1, rowsIn(cells.read()))) addRow();
    rows.flat().forEach((one) => one.refresh(sight));
    setText(fault, known().faults.filter(({ code }) => TOGETHER.includes(code)).map(faultLine).join(" "));
  }
  function words() {
    const { faults, value } = known();
    if (value === null) return [say("phone.chart.none")];
    return [...(faults.length === 0 ? [] : [say("phone.chart.unfinished")]), chartWords(value)];
  }
  const below = { root: el("div", null, table, fault, withHelp(more, "makers_chart")), refresh };
  const inside = foldedParts(field.label, [...settings, below], words, false);
  return {
    root: el("div", null, offers.root, inside.root),
    refresh: (sight) => {
      offers.refresh(sight);
      inside.refresh(sight);
    },
  };
}
