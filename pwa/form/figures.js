// The figures of a result, folded away: every value with its uncertainty, what was not taken and what would settle it.
// DOM only: every figure comes from the judgement, every sentence from the rulebook.

import { el } from "./elements.js";
import { changeOf, cellOf, ROWS, uncertaintyWords } from "./meanings.js";
import { fieldWords } from "./found.js";
import { listed } from "../language/formats.js";
import { say, term } from "../language/words.js";
import { sentenceCase } from "./words.js";

/** @param {unknown} value @returns {value is null | undefined} */
const absent = (value) => value === null || value === undefined;

/** @param {string[]} lines */
const list = (lines) => el("ul", null, lines.map((line) => el("li", null, line)));

/** @param {Row} row @param {Cell | undefined} value @param {Speaker} speak */
function cell(row, value, speak) {
  const missing = () => el("span", { class: "missing" }, say("phone.row.not_taken"));
  if (value === undefined) return el("td", { class: "number" }, missing());
  const spread = uncertaintyWords(row, value, speak);
  const words = speak.bare(row.quantity, value.value);
  return el("td", { class: "number" }, words, spread && el("span", { class: "spread" }, spread));
}

/** @param {Row} row @param {TakenTest[]} tests @param {Speaker} speak */
function tableRow(row, tests, speak) {
  const cells = tests.map(({ test, judged }) => cellOf(row, test, judged));
  if (cells.every(absent)) return [];
  const label = `${say(`phone.row.${row.code}`)} ${speak.labelFor(row.quantity)}`.trim();
  const values = cells.map((value) => cell(row, value, speak));
  const main = el("tr", { class: row.side ?? null }, el("th", { scope: "row" }, label), values);
  const [before, after] = cells;
  if (before === undefined || after === undefined) return [main];
  const { way, amount } = changeOf(row, before, after, speak);
  return [main, el("tr", { class: "difference" }, el("td", { colspan: "3" }, say(`phone.row.${way}`, { amount })))];
}

/** @param {TakenTest[]} tests @param {Speaker} speak */
export function table(tests, speak) {
  const rows = ROWS.flatMap((row) => tableRow(row, tests, speak));
  if (rows.length === 0) return null;
  const names = tests.map(({ role }) => el("th", { scope: "col", class: "number" }, say(`phone.row.${role}`)));
  const head = el("tr", null, el("th", { scope: "col" }, say("phone.row.measured")), names);
  return el("table", { class: "sides" }, el("thead", null, head), el("tbody", null, rows));
}

/** Readings that cannot be right together, said first. @param {TakenTest} taken */
export function contradictions({ role, judged }) {
  const faults = judged.faults.map(({ code, fields }) => say("phone.result.contradiction", {
    fault: term("fault", code), fields: fields.map(fieldWords).join(", "),
  }));
  return faults.length > 0
    && el("section", { class: "notice" }, el("h2", null, say(`phone.result.impossible_${role}`)), list(faults));
}

const ASKED = [
  "low_saturation_c", "high_saturation_c", "condenser_split_k", "pressure_ratio", "superheat_k", "subcooling_k",
];

/** What a quantity that is not known needs, or why it cannot be had. @param {JudgedTest["unknown"][number]} unknown */
function lackWords({ what: code, code: why, needs }) {
  const what = sentenceCase(term("derived", code));
  if (needs.length === 0) return say("phone.result.unknown", { what, why: term("unknown", why) });
  return say("phone.result.needs", { what, needs: listed(needs.map(fieldWords)) });
}

/** @param {JudgedTest} judged */
const unknownWords = (judged) => judged.unknown.filter(({ what }) => ASKED.includes(what)).map(lackWords);

/**
 * What cannot be told and what would settle it; said once where both tests lack the same.
 *
 * @param {TakenTest[]} tests
 */
export function unknowns(tests) {
  const lacks = tests.map(({ role, judged }) => ({ role, lines: unknownWords(judged) }));
  const open = lacks.filter(({ lines }) => lines.length > 0);
  const alike = open.length === 2 && open[0].lines.join() === open[1].lines.join();
  const groups = alike ? [{ role: "both", lines: open[0].lines }] : open;
  return groups.map(({ role, lines }) =>
    el("section", { class: "doubts" }, el("h3", null, say(`phone.result.unknown_${role}`)), list(lines)));
}
