// The maker's chart on the vehicle's step: folded, its settings, its table, and charts of similar cars to use.
// DOM only: cells are read in visit/chart.js, charts of other cars are found in open_cards.js.

import { cellsOf, inUnitOf, nameOfCell, readChart } from "../visit/chart.js";
import { chartFieldsOf } from "../visit/steps.js";
import { chartTable } from "./chart_table.js";
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
  const printed = () => tools.page.own?.printed ?? {};
  /** @param {Field} field */
  const unitFor = (field) => printed()[field.quantity ?? ""] ?? tools.unitFor(field);
  // Asked for by every cell at every keystroke, and taken apart only where something changed.
  function read() {
    const { text, drafted } = source.get();
    const now = `${drafted} ${JSON.stringify([tools.units(), printed()])} ${text}`;
    if (now === key) return cells;
    key = now;
    if (text === "") cells = {};
    else cells = drafted ? JSON.parse(text) : cellsOf(JSON.parse(text), { ...tools, unitFor });
    return cells;
  }
  /** @param {ChartCells} next */
  const write = (next) => source.set({ text: JSON.stringify(next) });
  /** @param {Field} field @param {number} [row] @returns {Source} */
  function cell(field, row) {
    const name = nameOfCell(field, row);
    const unitNow = () => (field.quantity === undefined ? undefined : unitOf(field.quantity));
    const get = () => read()[name] ?? { text: "", unit: unitNow() };
    /** @param {Entry} entry */
    const set = ({ text, unit = unitNow() }) => write({ ...read(), [name]: { text, unit } });
    return { get, set };
  }
  /** The unit of all figures of a quantity. @param {string} quantity */
  function unitOf(quantity) {
    const fields = chartFieldsOf(tools.rulebook).row.filter((field) => field.quantity === quantity);
    const names = new Set(fields.map((field) => nameOfCell(field)));
    const held = Object.entries(read()).find(([name, { unit }]) => unit && names.has(name.replace(/^\d+\./, "")));
    return held?.[1].unit ?? unitFor(fields[0]);
  }
  /** @param {string} quantity @param {string} unit */
  const turn = (quantity, unit) => {
    tools.note({ printed: { ...printed(), [quantity]: unit } });
    if (Object.keys(read()).length > 0) write(inUnitOf(read(), quantity, unit, tools.rulebook));
  };
  return { read, write, cell, unitOf, turn };
}

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
  const table = chartTable(cells, tools);
  const fault = el("p", { class: "fault", role: "status" });
  const known = () => readChart(cells.read(), tools.rulebook);
  function refresh() {
    table.refresh();
    setText(fault, known().faults.map(faultLine).join(" "));
  }
  function words() {
    const { faults, value } = known();
    if (value === null) return [say("phone.chart.none")];
    return [...(faults.length === 0 ? [] : [say("phone.chart.unfinished")]), chartWords(value)];
  }
  const below = {
    root: el("div", null, table.units, table.table, fault, withHelp(table.more, "makers_chart")), refresh,
  };
  const inside = foldedParts(field.label, [...settings, below], words, false);
  return {
    root: el("div", null, offers.root, inside.root),
    refresh: (sight) => {
      offers.refresh(sight);
      inside.refresh(sight);
    },
  };
}
