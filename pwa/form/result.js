// What the readings amount to, said on the spot: before and after side by side, what is not known, what would tell it.
// DOM only: every figure comes from the judgement, every sentence of the trade from the rulebook.

import { testOf } from "../visit/visit_model.js";
import { causesView, customerWords, findingWords, hasCauses, unjudgedWords } from "./causes.js";
import { drawn, el, folded } from "./elements.js";
import { cellOf, differenceWords, ROWS, uncertaintyWords } from "./meanings.js";
import { codeWords, counted, filled, sentenceCase } from "./words.js";
import { stripsView } from "./yardstick.js";

const ROLES = ["before", "after", "single"];

/** @param {unknown} value @returns {value is null | undefined} */
const absent = (value) => value === null || value === undefined;

/** @param {any[]} parts */
const section = (...parts) => el("section", { class: "doubts" }, ...parts);

/** @param {string[]} lines */
const list = (lines) => el("ul", null, lines.map((line) => el("li", null, line)));

/** The tests taken, each with its judgement. @param {Page} page @param {Sight} sight @returns {TakenTest[]} */
function testsTaken(page, { visit, assessment }) {
  return ROLES.flatMap((role) => {
    const id = testOf(page, role)?.id;
    const test = (visit.tests ?? []).find((one) => one.id === id);
    const judged = assessment.tests.find((one) => one.id === id);
    return test === undefined || judged === undefined ? [] : [{ role, test, judged }];
  });
}

/** @param {Row} row @param {Cell | undefined} value @param {Speaker} speak */
function cell(row, value, speak) {
  if (value === undefined) return el("td", { class: "number" }, el("span", { class: "missing" }, "not taken"));
  const spread = uncertaintyWords(row, value, speak);
  const words = speak.bare(row.quantity, value.value);
  return el("td", { class: "number" }, words, spread && el("span", { class: "spread" }, spread));
}

/** @param {Row} row @param {TakenTest[]} tests @param {Speaker} speak */
function tableRow(row, tests, speak) {
  const cells = tests.map(({ test, judged }) => cellOf(row, test, judged));
  if (cells.every(absent)) return [];
  const label = `${row.label} ${speak.labelFor(row.quantity)}`.trim();
  const values = cells.map((value) => cell(row, value, speak));
  const main = el("tr", { class: row.side ?? null }, el("th", { scope: "row" }, label), values);
  const [before, after] = cells;
  if (before === undefined || after === undefined) return [main];
  const difference = el("td", { colspan: "3" }, differenceWords(row, before, after, speak));
  return [main, el("tr", { class: "difference" }, difference)];
}

/** @param {TakenTest[]} tests @param {Speaker} speak */
function table(tests, speak) {
  const rows = ROWS.flatMap((row) => tableRow(row, tests, speak));
  if (rows.length === 0) return null;
  const names = tests.map(({ role }) => el("th", { scope: "col", class: "number" }, role));
  const head = el("tr", null, el("th", { scope: "col" }, "as measured"), names);
  return el("table", { class: "sides" }, el("thead", null, head), el("tbody", null, rows));
}

/** A field's or quantity's own words, by the last name in its path. @param {Rulebook} rulebook @param {string} path */
const fieldWords = (rulebook, path) => codeWords(rulebook, path.split(".").at(-1) ?? "", "field");

/** Readings that cannot be right together, said first. @param {TakenTest} taken @param {Rulebook} rulebook */
function contradictions({ role, judged }, rulebook) {
  const faults = judged.faults.map((fault) => sentenceOf(rulebook, fault));
  return faults.length > 0 && section(el("h2", null, `Cannot be right together, ${role}`), list(faults));
}

/** @param {JudgedTest} judged @param {Rulebook} rulebook @returns {string[]} */
function unknownWords(judged, rulebook) {
  return judged.unknown.filter((one) => ASKED.includes(one.what)).map((one) => {
    const what = sentenceCase(codeWords(rulebook, one.what, "derived"));
    const needs = one.needs.map((path) => fieldWords(rulebook, path)).join(" and the ");
    return needs === "" ? `${what}: ${codeWords(rulebook, one.code, "unknown")}` : `${what}: needs the ${needs}`;
  });
}

/**
 * What cannot be told and what would settle it; said once where both tests lack the same.
 *
 * @param {TakenTest[]} tests
 * @param {Rulebook} rulebook
 */
function unknowns(tests, rulebook) {
  const lacks = tests.map(({ role, judged }) => ({ role, lines: unknownWords(judged, rulebook) }));
  const open = lacks.filter(({ lines }) => lines.length > 0);
  const alike = open.length === 2 && open[0].lines.join() === open[1].lines.join();
  const groups = alike ? [{ role: "before and after", lines: open[0].lines }] : open;
  return groups.map(({ role, lines }) => section(el("h2", null, `Not known, ${role}`), list(lines)));
}

const ASKED = [
  "low_saturation_c", "high_saturation_c", "condenser_split_k", "pressure_ratio", "superheat_k", "subcooling_k",
];

/** @param {Rulebook} rulebook @param {JudgedTest["faults"][number]} fault */
export function sentenceOf(rulebook, fault) {
  const fields = fault.fields.map((path) => fieldWords(rulebook, path)).join(", ");
  return `${codeWords(rulebook, fault.code, "fault")}: ${fields}`;
}

/**
 * The two sides' change as measured, with what is not claimed about it.
 *
 * @param {TakenTest[]} tests
 * @param {Speaker} speak
 */
function measured(tests, speak) {
  const changes = ROWS.filter((row) => row.side !== undefined).flatMap((row) => {
    const [before, after] = tests.map(({ test, judged }) => cellOf(row, test, judged));
    if (before === undefined || after === undefined) return [];
    const words = differenceWords(row, before, after, speak);
    return [`${row.label} ${words === "the same" ? "stayed the same" : words}`];
  });
  const words = changes.length === 0 ? "The two tests stand side by side" : `${changes.join(", ")}, as measured`;
  return `${sentenceCase(words)}. How much of the difference is the weather's is not told apart here.`;
}

/**
 * How the change of the high side divides, in the judgement's own figures.
 *
 * @param {Comparison} comparison
 * @param {Speaker} speak
 * @returns {Shares | null} null where they are not to be had
 */
function sharesOf(comparison, speak) {
  const { conditions_share_kpa: weather, work_share_kpa: work, interval_kpa: interval } = comparison.high_side;
  if (weather === null || work === null || interval === null) return null;
  /** @param {number} kpa */
  const signed = (kpa) => `${kpa > 0 ? "+" : ""}${speak.bare("pressure", kpa)}`;
  const [low, high] = interval;
  return {
    kpa: { weather, work, interval },
    weather: `the weather and settings ${signed(weather)}`,
    work: `the work ${signed(work)}, between ${signed(low)} and ${signed(high)}`,
    unit: speak.labelFor("pressure"),
  };
}

/**
 * Two bars on one line of zero: what the weather did, what the work did with its interval; named in words beside them.
 *
 * @param {Shares} shares
 */
function sharesDrawn({ kpa: { weather, work, interval }, ...words }) {
  const all = [0, weather, work, ...interval];
  const [least, most] = [Math.min(...all), Math.max(...all)];
  /** @param {number} kpa */
  const x = (kpa) => 4 + (292 * (kpa - least)) / (most - least || 1);
  /** @param {number} kpa @param {number} y @param {string} name */
  const bar = (kpa, y, name) => {
    const width = Math.abs(x(kpa) - x(0));
    return drawn("rect", { class: name, x: Math.min(x(0), x(kpa)), y, width, height: 14 });
  };
  const [low, high] = interval.map(x);
  /** @param {string} name */
  const whisker = (name) => drawn("path", { class: name, d: `M${low} 42v14M${high} 42v14M${low} 49H${high}` });
  const label = `Change of the high side in ${words.unit}: ${words.weather}; ${words.work}.`;
  return drawn(
    "svg", { class: "shares", viewBox: "0 0 300 70", role: "img", "aria-label": label },
    bar(weather, 12, "weather"), bar(work, 42, "work"), whisker("halo"), whisker("interval"),
    drawn("path", { class: "zero", d: `M${x(0)} 6v58` }),
  );
}

const NOT_NOTED = /_not_recorded$/;

/** @param {string[]} codes @param {Rulebook} rulebook */
function inLines(codes, rulebook) {
  const lines = codes.map((code) => `${sentenceCase(codeWords(rulebook, code, "comparison_note"))}.`);
  return el("ul", { class: "lines" }, lines.map((line) => el("li", null, line)));
}

/**
 * What to know of a comparison, a line each; what was merely not written down only widens it, and is folded away.
 *
 * @param {Comparison} comparison
 * @param {Rulebook} rulebook
 */
function remarks(comparison, rulebook) {
  const { credits, notes } = comparison;
  const plain = [...credits, ...notes.filter((code) => !NOT_NOTED.test(code))];
  const open = notes.filter((code) => NOT_NOTED.test(code));
  const count = `${counted(open.length, "thing that makes", "things that make")} the figures less sharp`;
  return [
    plain.length > 0 && inLines(plain, rulebook),
    open.length > 0 && folded("Missing in one test or both", [inLines(open, rulebook)], count),
  ];
}

/** @param {Comparison | null} comparison @param {{rulebook: Rulebook, speak: Speaker}} about */
function comparisonView(comparison, { rulebook, speak }) {
  if (comparison === null) return null;
  const shares = sharesOf(comparison, speak);
  return section(
    shares && el("h2", null, `Change of the high side, ${shares.unit}`),
    shares && el("p", { class: "meaning" }, sentenceCase(shares.weather)),
    shares && sharesDrawn(shares),
    shares && el("p", { class: "meaning" }, sentenceCase(shares.work)),
    remarks(comparison, rulebook),
  );
}

/** Whether anything changed by more than its uncertainty. @param {Comparison} comparison */
const changed = ({ high_side: side, condenser_split: split, vent }) =>
  [side.interval_kpa, split?.interval_k ?? null, vent?.interval_k ?? null]
    .some((interval) => interval !== null && (interval[0] > 0 || interval[1] < 0));

/**
 * The finding in the customer's words, the same that the sheet prints.
 *
 * @param {Comparison} comparison
 * @param {Rulebook} rulebook
 * @returns {string}
 */
function verdictWords(comparison, rulebook) {
  const words = rulebook.words.visit.result;
  const reasons = comparison.reasons.map((code) => codeWords(rulebook, code, "reason")).join(", ");
  const floor = comparison.notes.includes("vent_at_floor") ? "better_floor" : "better";
  const plain = comparison.notes.includes("superheat_back") ? "better_superheat" : floor;
  const better = comparison.vent?.verdict === "better" ? "better_vent" : plain;
  const other = comparison.verdict === "not_shown" && changed(comparison) ? "not_shown_changed" : comparison.verdict;
  return filled(words[comparison.verdict === "better" ? better : other], { reasons });
}

/**
 * The finding in a sentence or two.
 *
 * @param {TakenTest[]} tests
 * @param {Comparison | null} comparison
 * @param {{rulebook: Rulebook, speak: Speaker}} about
 */
export function headline(tests, comparison, { rulebook, speak }) {
  if (tests.length === 0) return "No test has been taken yet.";
  if (tests.length === 1) {
    const [{ judged }] = tests;
    const alone = "One test is taken. A second one, after the work, will stand beside it.";
    return hasCauses(judged) ? findingWords(judged, rulebook) : alone;
  }
  if (absent(comparison)) return measured(tests, speak);
  const { verdict } = comparison;
  const name = ["better", "worse"].includes(verdict) ? `${codeWords(rulebook, verdict, "verdict")}. ` : "";
  return name + verdictWords(comparison, rulebook);
}

/** @param {Page} page @param {Tools} tools @param {Sight} sight */
export function resultView(page, { rulebook }, sight) {
  const about = { rulebook, speak: sight.speak };
  const { comparison } = sight.assessment;
  const tests = testsTaken(page, sight);
  const values = table(tests, sight.speak);
  const causes = tests.map((_, place) => causesView(place, tests, about));
  const unjudged = unjudgedWords(tests, rulebook);
  const edition = String(rulebook.hash).slice(0, 4);
  const mark = `Worked out on this phone with rulebook ${edition}. \u00b1 covers 95 of 100 cases.`;
  return el(
    "div", null,
    el("p", { class: "finding" }, headline(tests, comparison, about)),
    stripsView(tests, about),
    values,
    comparisonView(comparison, about),
    causes,
    unjudged && el("p", { class: "meaning" }, unjudged),
    tests.map((test) => contradictions(test, rulebook)),
    unknowns(tests, rulebook),
    values && el("p", { class: "meaning" }, mark),
  );
}

/**
 * The result as plain text, for a message or the clipboard: what a customer may be handed at once.
 *
 * @param {Page} page
 * @param {Tools} tools
 * @param {Sight} sight
 */
export function summaryOf(page, { rulebook }, sight) {
  const tests = testsTaken(page, sight);
  const { visit, speak } = sight;
  const vehicle = [visit.vehicle?.make, visit.vehicle?.model, visit.vehicle?.plate].filter((part) => part).join(" ");
  const rows = ROWS.flatMap((row) => {
    const cells = tests.map(({ test, judged }) => cellOf(row, test, judged));
    if (row.plain === undefined || cells.every(absent)) return [];
    const words = cells.map((value) => (absent(value) ? "not taken" : speak.bare(row.quantity, value.value)));
    const values = tests.map(({ role }, place) => `${role} ${words[place]}`).join(", ");
    return [`${sentenceCase(row.plain)}, ${speak.labelFor(row.quantity)}: ${values}`];
  });
  const work = (visit.work ?? []).map((one) => codeWords(rulebook, one.code, "work")).join(", ");
  const words = headline(tests, sight.assessment.comparison, { rulebook, speak });
  const fits = customerWords(tests[0]?.judged, rulebook);
  const lines = [visit.technician?.business, vehicle, words, fits, work && `Done: ${work}.`, ...rows];
  return lines.filter((line) => line).join("\n");
}
