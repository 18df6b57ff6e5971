// What the readings amount to, said on the spot: before and after side by side, what is not known, what would settle it.
// DOM only: every figure comes from the judgement, every sentence of the trade from the rulebook.

import { testOf } from "../visit/visit_model.js";
import { causesView, customerWords } from "./causes.js";
import { drawn, el, folded } from "./elements.js";
import { cellOf, differenceWords, ROWS, uncertaintyWords } from "./meanings.js";
import { codeWords, counted, sentenceCase } from "./words.js";

/** @param {unknown} value */
const absent = (value) => value === null || value === undefined;

/** @param {Assessment} assessment @param {{id: string} | undefined} test */
const judgedOf = (assessment, test) => assessment.tests.find((one) => one.id === test?.id);

/** @param {JudgedPage} page @param {string} role */
const taken = (page, role) => {
  const test = testOf(page, role);
  return (page.sight.visit.tests ?? []).find((one) => one.id === test?.id);
};

/** @param {Row} row @param {Cell | undefined} found @param {Speaker} speak */
function cell(row, found, speak) {
  if (found === undefined) return el("td", { class: "number" }, el("span", { class: "missing" }, "not taken"));
  const spread = uncertaintyWords(row, found, speak);
  return el("td", { class: "number" }, speak.bare(row.quantity, found.value), spread && el("span", { class: "spread" }, spread));
}

/** @param {Row} row @param {TestPair[]} pair @param {Speaker} speak */
function tableRow(row, pair, speak) {
  const cells = pair.map(([test, judged]) => cellOf(row, test, judged));
  if (cells.every((found) => found === undefined)) return null;
  const label = `${row.label} ${speak.labelFor(row.quantity)}`.trim();
  const main = el("tr", { class: row.side ?? null }, el("th", { scope: "row" }, label), cells.map((found) => cell(row, found, speak)));
  if (cells.length < 2 || cells.includes(undefined)) return [main];
  return [main, el("tr", { class: "difference" }, el("td", { colspan: "3" }, differenceWords(row, cells[0], cells[1], speak)))];
}

/** @param {TestPair[]} pair @param {string[]} names @param {Speaker} speak */
function table(pair, names, speak) {
  const rows = ROWS.map((row) => tableRow(row, pair, speak)).filter((row) => row !== null);
  if (rows.length === 0) return null;
  const head = el("tr", null, el("th", { scope: "col" }, "as measured"), names.map((name) => el("th", { scope: "col", class: "number" }, name)));
  return el("table", { class: "sides" }, el("thead", null, head), el("tbody", null, rows.flat()));
}

/**
 * Readings that cannot be right together, said first.
 *
 * @param {JudgedTest} judged
 * @param {string} name
 * @param {Rulebook} rulebook
 */
function contradictions(judged, name, rulebook) {
  const faults = judged.faults.map((fault) => el("li", null, sentenceOf(rulebook, fault)));
  return faults.length > 0 && el("section", { class: "doubts" }, el("h2", null, `Cannot be right together, ${name}`), el("ul", null, faults));
}

/** @param {JudgedTest} judged @param {Rulebook} rulebook @returns {string[]} */
function unknownWords(judged, rulebook) {
  /** @param {Tree} unknown */
  const needs = (unknown) => (unknown.needs ?? []).map((path) => codeWords(rulebook, path.split(".").at(-1), "field")).join(" and the ");
  return judged.unknown.filter((one) => ASKED.includes(one.what)).map((one) => {
    const what = sentenceCase(codeWords(rulebook, one.what, "derived"));
    return needs(one) === "" ? `${what}: ${codeWords(rulebook, one.code, "unknown")}` : `${what}: needs the ${needs(one)}`;
  });
}

/**
 * What cannot be told and what would settle it; said once where both tests lack the same.
 *
 * @param {[role: string, judged: JudgedTest][]} tests
 * @param {Rulebook} rulebook
 */
function unknowns(tests, rulebook) {
  const said = tests.map(([name, judged]) => [name, unknownWords(judged, rulebook)]).filter(([, lines]) => lines.length > 0);
  const alike = said.length === 2 && said[0][1].join() === said[1][1].join();
  const groups = alike ? [["before and after", said[0][1]]] : said;
  return groups.map(([name, lines]) => el("section", { class: "doubts" }, el("h2", null, `Not known, ${name}`), el("ul", null, lines.map((line) => el("li", null, line)))));
}

const ASKED = ["low_saturation_c", "high_saturation_c", "condenser_split_k", "pressure_ratio", "superheat_k", "subcooling_k"];

/** @param {Rulebook} rulebook @param {Tree} fault */
export function sentenceOf(rulebook, fault) {
  const fields = fault.fields.map((path) => codeWords(rulebook, path.split(".").at(-1), "field")).join(", ");
  return `${codeWords(rulebook, fault.code, "fault")}: ${fields}`;
}

/**
 * The two sides' change as measured, with what is not claimed about it.
 *
 * @param {TestPair[]} pair
 * @param {Speaker} speak
 */
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

/**
 * How the change of the high side divides, in the judgement's own figures; null where they are not to be had.
 *
 * @param {Tree} comparison
 * @param {Speaker} speak
 */
function shares(comparison, speak) {
  const side = comparison.high_side;
  if (absent(side?.work_share_kpa)) return null;
  /** @param {number} kpa */
  const signed = (kpa) => `${kpa > 0 ? "+" : ""}${speak.bare("pressure", kpa)}`;
  const [low, high] = side.interval_kpa;
  return {
    side,
    weather: `the weather and settings ${signed(side.conditions_share_kpa)}`,
    work: `the work ${signed(side.work_share_kpa)}, between ${signed(low)} and ${signed(high)}`,
    unit: speak.labelFor("pressure"),
  };
}

/**
 * Two bars on one line of zero: what the weather did, what the work did with its interval; named in words beside them.
 *
 * @param {Shares} told
 */
function sharesDrawn(told) {
  const { side } = told;
  const all = [0, side.conditions_share_kpa, side.work_share_kpa, ...side.interval_kpa];
  const [least, most] = [Math.min(...all), Math.max(...all)];
  const x = (kpa) => 4 + (292 * (kpa - least)) / (most - least || 1);
  const bar = (kpa, top, name) => drawn("rect", { class: name, x: Math.min(x(0), x(kpa)), y: top, width: Math.abs(x(kpa) - x(0)), height: 14 });
  const [low, high] = side.interval_kpa.map(x);
  const whisker = (name) => drawn("path", { class: name, d: `M${low} 42v14M${high} 42v14M${low} 49H${high}` });
  const zero = drawn("path", { class: "zero", d: `M${x(0)} 6v58` });
  const said = `Change of the high side in ${told.unit}: ${told.weather}; ${told.work}.`;
  return drawn("svg", { class: "shares", viewBox: "0 0 300 70", role: "img", "aria-label": said }, bar(side.conditions_share_kpa, 12, "weather"), bar(side.work_share_kpa, 42, "work"), whisker("halo"), whisker("interval"), zero);
}

const NOT_NOTED = /_not_recorded$/;

/** @param {string[]} codes @param {Rulebook} rulebook */
const inLines = (codes, rulebook) => el("ul", { class: "lines" }, codes.map((code) => el("li", null, `${sentenceCase(codeWords(rulebook, code, "comparison_note"))}.`)));

/**
 * What to know of a comparison, a line each; what was merely not written down only widens it, and is folded away.
 *
 * @param {Tree} comparison
 * @param {Rulebook} rulebook
 */
function noted({ credits, notes }, rulebook) {
  const told = [...credits, ...notes.filter((code) => !NOT_NOTED.test(code))];
  const open = notes.filter((code) => NOT_NOTED.test(code));
  return [
    told.length > 0 && inLines(told, rulebook),
    open.length > 0 && folded("Missing in one test or both", [inLines(open, rulebook)], `${counted(open.length, "thing that makes", "things that make")} the figures less sharp`),
  ];
}

/** @param {Tree | null} comparison @param {{rulebook: Rulebook, speak: Speaker}} about */
function compared(comparison, { rulebook, speak }) {
  if (absent(comparison)) return null;
  const told = shares(comparison, speak);
  return el(
    "section", { class: "doubts" },
    told && el("h2", null, `Change of the high side, ${told.unit}`),
    told && el("p", { class: "meaning" }, sentenceCase(told.weather)),
    told && sharesDrawn(told),
    told && el("p", { class: "meaning" }, sentenceCase(told.work)),
    noted(comparison, rulebook),
  );
}

/**
 * The finding in the customer's words, the same that the sheet prints.
 *
 * @param {Tree} comparison
 * @param {Rulebook} rulebook
 * @returns {string}
 */
function verdictWords(comparison, rulebook) {
  const words = rulebook.sheet_words.languages.en.result;
  const reasons = comparison.reasons.map((code) => codeWords(rulebook, code, "reason")).join(", ");
  const better = comparison.vent?.verdict === "better" ? "better_vent" : comparison.notes.includes("vent_at_floor") ? "better_floor" : "better";
  return words[comparison.verdict === "better" ? better : comparison.verdict].replace("{reasons}", reasons);
}

/** @param {TestPair[]} pair @param {Tree | null} comparison @param {{rulebook: Rulebook, speak: Speaker}} about */
export function headline(pair, comparison, { rulebook, speak }) {
  if (pair.length === 0) return "No test has been taken yet.";
  if (pair.length === 1) return "One test is taken. A second one, after the work, will stand beside it.";
  if (absent(comparison)) return measured(pair, speak);
  const named = ["better", "worse"].includes(comparison.verdict) ? `${codeWords(rulebook, comparison.verdict, "verdict")}. ` : "";
  return named + verdictWords(comparison, rulebook);
}

/** @param {Page} page @param {Tools} tools @param {Sight} sight */
export function resultView(page, tools, sight) {
  const view = { ...page, sight };
  const tests = ["before", "after", "single"].map((role) => [role, taken(view, role)]).filter(([, test]) => test !== undefined);
  const pair = tests.map(([, test]) => [test, judgedOf(sight.assessment, test)]);
  const words = headline(pair, sight.assessment.comparison, { rulebook: tools.rulebook, speak: sight.speak });
  const named = tests.map(([role], index) => [role, pair[index][1]]);
  const doubted = [...named.map(([role, judged]) => contradictions(judged, role, tools.rulebook)), ...unknowns(named, tools.rulebook)];
  const shown = table(pair, tests.map(([role]) => role), sight.speak);
  const mark = `Worked out on this phone with rulebook ${String(tools.rulebook.hash).slice(0, 4)}. \u00b1 covers 95 of 100 cases.`;
  const divided = compared(sight.assessment.comparison, { rulebook: tools.rulebook, speak: sight.speak });
  const fitting = named.map(([role, judged], place) => causesView(role, judged, { rulebook: tools.rulebook, speak: sight.speak }, place > 0 ? named[0][1] : undefined));
  return el("div", null, el("p", { class: "finding" }, words), shown, divided, fitting, doubted, shown && el("p", { class: "meaning" }, mark));
}

/**
 * The result as plain text, for a message or the clipboard: what a customer may be handed at once.
 *
 * @param {Page} page
 * @param {Tools} tools
 * @param {Sight} sight
 */
export function summaryOf(page, tools, sight) {
  const view = { ...page, sight };
  const tests = ["before", "after", "single"].map((role) => [role, taken(view, role)]).filter(([, test]) => test !== undefined);
  const pair = tests.map(([, test]) => [test, judgedOf(sight.assessment, test)]);
  const { visit, speak } = sight;
  const vehicle = [visit.vehicle?.make, visit.vehicle?.model, visit.vehicle?.plate].filter((part) => part).join(" ");
  const rows = ROWS.filter((row) => row.plain !== undefined).flatMap((row) => {
    const cells = pair.map(([test, judged]) => cellOf(row, test, judged));
    if (cells.every(absent)) return [];
    const values = cells.map((cell, index) => `${tests[index][0]} ${absent(cell) ? "not taken" : speak.bare(row.quantity, cell.value)}`);
    return [`${sentenceCase(row.plain)}, ${speak.labelFor(row.quantity)}: ${values.join(", ")}`];
  });
  const work = (visit.work ?? []).map((one) => codeWords(tools.rulebook, one.code, "work")).join(", ");
  const words = headline(pair, sight.assessment.comparison, { rulebook: tools.rulebook, speak });
  const fits = customerWords(pair[0]?.[1], tools.rulebook);
  return [visit.technician?.business, vehicle, words, fits, work && `Done: ${work}.`, ...rows].filter((line) => line).join("\n");
}
