// What the readings amount to, said on the spot: before and after side by side, what is not known, what would tell it.
// DOM only: every figure comes from the judgement, every sentence of the trade from the rulebook.

import { testOf } from "../visit/visit_model.js";
import { causesView, customerWords, findingWords, hasCauses, unjudgedWords } from "./causes.js";
import { drawn, el, folded } from "./elements.js";
import { changeOf, cellOf, ROWS, uncertaintyWords } from "./meanings.js";
import { listed } from "../language/formats.js";
import { fieldName, has, say, term } from "../language/words.js";
import { sentenceCase, sentences } from "./words.js";
import { stripsView } from "./yardstick.js";

const ROLES = ["before", "after", "single"];

/** @param {unknown} value @returns {value is null | undefined} */
const absent = (value) => value === null || value === undefined;

/** @param {any[]} parts */
const section = (...parts) => el("section", { class: "doubts" }, ...parts);

/** @param {string[]} lines */
const list = (lines) => el("ul", null, lines.map((line) => el("li", null, line)));

/** The tests taken, each with its judgement. @param {Page} page @param {Sight} sight @returns {TakenTest[]} */
export function testsTaken(page, { visit, assessment }) {
  return ROLES.flatMap((role) => {
    const id = testOf(page, role)?.id;
    const test = (visit.tests ?? []).find((one) => one.id === id);
    const judged = assessment.tests.find((one) => one.id === id);
    return test === undefined || judged === undefined ? [] : [{ role, test, judged }];
  });
}

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
function table(tests, speak) {
  const rows = ROWS.flatMap((row) => tableRow(row, tests, speak));
  if (rows.length === 0) return null;
  const names = tests.map(({ role }) => el("th", { scope: "col", class: "number" }, say(`phone.row.${role}`)));
  const head = el("tr", null, el("th", { scope: "col" }, say("phone.row.measured")), names);
  return el("table", { class: "sides" }, el("thead", null, head), el("tbody", null, rows));
}

/** A field's own words. @param {string} path */
const fieldWords = (path) => fieldName(path.split("."));

/** Readings that cannot be right together, said first. @param {TakenTest} taken */
function contradictions({ role, judged }) {
  const faults = judged.faults.map(sentenceOf);
  return faults.length > 0 && section(el("h2", null, say(`phone.result.impossible_${role}`)), list(faults));
}

/** @param {JudgedTest} judged @returns {string[]} */
function unknownWords(judged) {
  return judged.unknown.filter((one) => ASKED.includes(one.what)).map((one) => {
    const what = sentenceCase(term("derived", one.what));
    const needs = one.needs.map(fieldWords);
    if (needs.length === 0) return say("phone.result.unknown", { what, why: term("unknown", one.code) });
    return say("phone.result.needs", { what, needs: listed(needs) });
  });
}

/**
 * What cannot be told and what would settle it; said once where both tests lack the same.
 *
 * @param {TakenTest[]} tests
 */
function unknowns(tests) {
  const lacks = tests.map(({ role, judged }) => ({ role, lines: unknownWords(judged) }));
  const open = lacks.filter(({ lines }) => lines.length > 0);
  const alike = open.length === 2 && open[0].lines.join() === open[1].lines.join();
  const groups = alike ? [{ role: "both", lines: open[0].lines }] : open;
  return groups.map(({ role, lines }) => section(el("h2", null, say(`phone.result.unknown_${role}`)), list(lines)));
}

const ASKED = [
  "low_saturation_c", "high_saturation_c", "condenser_split_k", "pressure_ratio", "superheat_k", "subcooling_k",
];

/** @param {JudgedTest["faults"][number]} fault */
const sentenceOf = (fault) => say("phone.result.contradiction", {
  fault: term("fault", fault.code), fields: fault.fields.map(fieldWords).join(", "),
});

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
    const { way, amount } = changeOf(row, before, after, speak);
    return [say(`phone.change.${row.side}.${way}`, { amount })];
  });
  return sentences([...(changes.length === 0 ? [say("phone.change.none")] : changes), say("phone.change.weather")]);
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
    weather: say("phone.share.weather", { value: signed(weather) }),
    work: say("phone.share.work", { value: signed(work), low: signed(low), high: signed(high) }),
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
  const label = say("phone.share.picture", words);
  return drawn(
    "svg", { class: "shares", viewBox: "0 0 300 70", role: "img", "aria-label": label },
    bar(weather, 12, "weather"), bar(work, 42, "work"), whisker("halo"), whisker("interval"),
    drawn("path", { class: "zero", d: `M${x(0)} 6v58` }),
  );
}

const NOT_NOTED = /_not_recorded$/;

/** @param {string[]} codes */
function inLines(codes) {
  const lines = codes.map((code) => `${sentenceCase(term("comparison_note", code))}.`);
  return el("ul", { class: "lines" }, lines.map((line) => el("li", null, line)));
}

/**
 * What to know of a comparison, a line each; what was merely not written down only widens it, and is folded away.
 *
 * @param {Comparison} comparison
 */
function remarks(comparison) {
  const { credits, notes } = comparison;
  const plain = [...credits, ...notes.filter((code) => !NOT_NOTED.test(code))];
  const open = notes.filter((code) => NOT_NOTED.test(code));
  const count = say("phone.result.missing_count", { count: open.length });
  return [
    plain.length > 0 && inLines(plain),
    open.length > 0 && folded(say("phone.result.missing"), [inLines(open)], count),
  ];
}

/** @param {Comparison | null} comparison @param {Speaker} speak */
export function comparisonView(comparison, speak) {
  if (comparison === null) return null;
  const shares = sharesOf(comparison, speak);
  return section(
    shares && el("h2", null, say("phone.share.title", { unit: shares.unit })),
    shares && el("p", { class: "meaning" }, shares.weather),
    shares && sharesDrawn(shares),
    shares && el("p", { class: "meaning" }, shares.work),
    remarks(comparison),
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
 * @returns {string}
 */
function verdictWords(comparison) {
  const reasons = comparison.reasons.map((code) => term("reason", code)).join(", ");
  const floor = comparison.notes.includes("vent_at_floor") ? "better_floor" : "better";
  const plain = comparison.notes.includes("superheat_back") ? "better_superheat" : floor;
  const better = comparison.vent?.verdict === "better" ? "better_vent" : plain;
  const other = comparison.verdict === "not_shown" && changed(comparison) ? "not_shown_changed" : comparison.verdict;
  return say(`visit.result.${comparison.verdict === "better" ? better : other}`, { reasons });
}

/**
 * The finding in a sentence or two.
 *
 * @param {TakenTest[]} tests
 * @param {Comparison | null} comparison
 * @param {{rulebook: Rulebook, speak: Speaker}} about
 */
export function headline(tests, comparison, { rulebook, speak }) {
  if (tests.length === 0) return say("phone.result.none");
  if (tests.length === 1) {
    const [{ judged }] = tests;
    return hasCauses(judged) ? findingWords(judged, rulebook) : say("phone.result.alone");
  }
  if (absent(comparison)) return measured(tests, speak);
  const { verdict } = comparison;
  const finding = verdictWords(comparison);
  if (!["better", "worse"].includes(verdict)) return finding;
  return say("phone.result.verdict", { verdict: term("verdict", verdict), finding });
}

/** @param {Page} page @param {Tools} tools @param {Sight} sight */
export function resultView(page, { rulebook }, sight) {
  const about = { rulebook, speak: sight.speak };
  const { comparison } = sight.assessment;
  const tests = testsTaken(page, sight);
  const values = table(tests, sight.speak);
  const causes = tests.map((_, place) => causesView(place, tests, about));
  const unjudged = unjudgedWords(tests);
  const mark = say("phone.result.mark", { edition: String(rulebook.hash).slice(0, 4) });
  return el(
    "div", null,
    el("p", { class: "finding" }, headline(tests, comparison, about)),
    stripsView(tests, about),
    values,
    comparisonView(comparison, sight.speak),
    causes,
    unjudged && el("p", { class: "meaning" }, unjudged),
    tests.map(contradictions),
    unknowns(tests),
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
    if (!has(`phone.summary.${row.code}`) || cells.every(absent)) return [];
    const values = cells.map((one, place) => {
      const value = absent(one) ? say("phone.row.not_taken") : speak.bare(row.quantity, one.value);
      return say(`phone.summary.${tests[place].role}`, { value });
    });
    const what = say(`phone.summary.${row.code}`);
    return [say("phone.summary.line", { what, unit: speak.labelFor(row.quantity), values: values.join(", ") })];
  });
  const work = (visit.work ?? []).map((one) => term("work", one.code)).join(", ");
  const words = headline(tests, sight.assessment.comparison, { rulebook, speak });
  const fits = customerWords(tests[0]?.judged);
  const done = work && say("phone.summary.done", { work });
  const lines = [visit.technician?.business, vehicle, words, fits, done, ...rows];
  return lines.filter((line) => line).join("\n");
}
