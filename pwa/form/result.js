// What the readings amount to, said on the spot: before and after side by side, what is not known, what would settle it.
// DOM only: every figure comes from the judgement, every sentence of the trade from the rulebook.

import { testOf } from "../page.js";
import { el } from "./elements.js";
import { cellOf, differenceWords, ROWS, uncertaintyWords } from "./meanings.js";
import { codeWords, sentenceCase } from "./words.js";

const judgedOf = (assessment, test) => assessment.tests.find((one) => one.id === test?.id);

const taken = (page, role) => {
  const test = testOf(page, role);
  return (page.sight.visit.tests ?? []).find((one) => one.id === test?.id);
};

function cell(row, found, speak) {
  if (found === undefined) return el("td", { class: "number" }, el("span", { class: "missing" }, "not taken"));
  const spread = uncertaintyWords(row, found, speak);
  return el("td", { class: "number" }, speak.bare(row.quantity, found.value), spread && el("span", { class: "spread" }, spread));
}

function tableRow(row, pair, speak) {
  const cells = pair.map(([test, judged]) => cellOf(row, test, judged));
  if (cells.every((found) => found === undefined)) return null;
  const label = `${row.label} ${speak.labelFor(row.quantity)}`.trim();
  const main = el("tr", { class: row.side ?? null }, el("th", { scope: "row" }, label), cells.map((found) => cell(row, found, speak)));
  if (cells.length < 2 || cells.includes(undefined)) return [main];
  return [main, el("tr", { class: "difference" }, el("td", { colspan: "3" }, differenceWords(row, cells[0], cells[1], speak)))];
}

function table(pair, names, speak) {
  const rows = ROWS.map((row) => tableRow(row, pair, speak)).filter((row) => row !== null);
  if (rows.length === 0) return null;
  const head = el("tr", null, el("th", { scope: "col" }, "as measured"), names.map((name) => el("th", { scope: "col", class: "number" }, name)));
  return el("table", { class: "sides" }, el("thead", null, head), el("tbody", null, rows.flat()));
}

// Readings that cannot be right together, and what cannot be told with what would settle it.
function doubts(judged, name, rulebook) {
  const words = (fault) => sentenceOf(rulebook, fault);
  const needs = (unknown) => (unknown.needs ?? []).map((path) => codeWords(rulebook, path.split(".").at(-1), "field")).join(" and ");
  const faults = judged.faults.map((fault) => el("li", null, words(fault)));
  const told = judged.unknown.filter((one) => ASKED.includes(one.what));
  const unknown = told.map((one) => {
    const what = codeWords(rulebook, one.what, "derived");
    return el("li", null, needs(one) === "" ? `${what}: ${codeWords(rulebook, one.code, "unknown")}` : `${what}: ${needs(one)} would settle it`);
  });
  return [
    faults.length > 0 && el("section", { class: "doubts" }, el("h2", null, `Cannot be right together, ${name}`), el("ul", null, faults)),
    unknown.length > 0 && el("section", { class: "doubts" }, el("h2", null, `Not known, ${name}`), el("ul", null, unknown)),
  ];
}

const ASKED = ["low_saturation_c", "high_saturation_c", "condenser_split_k", "pressure_ratio", "superheat_k", "subcooling_k"];

export function sentenceOf(rulebook, fault) {
  const fields = fault.fields.map((path) => codeWords(rulebook, path.split(".").at(-1), "field")).join(", ");
  return `${codeWords(rulebook, fault.code, "fault")}: ${fields}`;
}

// The two sides' change as measured, with what is not claimed about it.
function measured(pair, speak) {
  const changes = ROWS.filter((row) => row.side !== undefined).flatMap((row) => {
    const [before, after] = pair.map(([test, judged]) => cellOf(row, test, judged));
    if (before === undefined || after === undefined) return [];
    const words = differenceWords(row, before, after, speak);
    return [`${row.label} ${words === "the same" ? "stayed the same" : words}`];
  });
  const said = changes.length === 0 ? "The two tests stand side by side" : sentenceCase(`${changes.join(", ")}, as measured`);
  return `${said}. How much of the difference is the weather's is not told apart here.`;
}

// How the change of the high side divides, in the judgement's own figures.
function shares(comparison, speak) {
  const side = comparison.high_side;
  if (side?.work_share_kpa === undefined || side.work_share_kpa === null) return null;
  const signed = (kpa) => `${kpa > 0 ? "+" : ""}${speak.bare("pressure", kpa)}`;
  const [low, high] = side.interval_kpa;
  return (
    `High side ${signed(side.raw_change_kpa)} ${speak.labelFor("pressure")} as measured; ` +
    `weather and settings ${signed(side.conditions_share_kpa)}, the work ${signed(side.work_share_kpa)}, between ${signed(low)} and ${signed(high)}.`
  );
}

function compared(comparison, { rulebook, speak }) {
  if (comparison === null || comparison === undefined) return null;
  const because = comparison.reasons.map((code) => el("li", null, codeWords(rulebook, code, "reason")));
  const noted = [...comparison.credits, ...comparison.notes].map((code) => el("li", null, codeWords(rulebook, code, "note")));
  const divided = shares(comparison, speak);
  return el("section", { class: "doubts" }, divided && el("p", { class: "sentence" }, divided), el("ul", null, because, noted));
}

export function headline(pair, comparison, { rulebook, speak }) {
  if (pair.length === 0) return "No test has been taken yet.";
  if (pair.length === 1) return "One test is taken. A second one, after the work, will stand beside it.";
  if (comparison === null || comparison === undefined) return measured(pair, speak);
  return `${codeWords(rulebook, comparison.verdict, "verdict")}.`;
}

export function resultView(page, tools, sight) {
  const view = { ...page, sight };
  const tests = ["before", "after", "single"].map((role) => [role, taken(view, role)]).filter(([, test]) => test !== undefined);
  const pair = tests.map(([, test]) => [test, judgedOf(sight.assessment, test)]);
  const words = headline(pair, sight.assessment.comparison, { rulebook: tools.rulebook, speak: sight.speak });
  const doubted = tests.flatMap(([role], index) => doubts(pair[index][1], role, tools.rulebook));
  const shown = table(pair, tests.map(([role]) => role), sight.speak);
  const mark = `Worked out on this phone with rulebook ${String(tools.rulebook.hash).slice(0, 4)}. \u00b1 covers 95 of 100 cases.`;
  const divided = compared(sight.assessment.comparison, { rulebook: tools.rulebook, speak: sight.speak });
  return el("div", null, el("p", { class: "finding" }, words), divided, shown, doubted, shown && el("p", { class: "meaning" }, mark));
}
