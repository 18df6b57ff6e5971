// What the readings amount to in a sentence or two, and what was measured too little to tell.
// Words only: every finding comes from the judgement, every sentence from the rulebook.

import { hasCauses, heldOf, LETTERED, wasRead } from "../visit/leading.js";
import { either, listed } from "../language/formats.js";
import { fieldName, has, say, term } from "../language/words.js";
import { sentenceCase, sentences } from "./words.js";

/** @param {string} id */
const nameOf = (id) => say(`causes.causes.${id}.name`);

/** A small number as a word, if the language has one for it. @param {number} count */
export const inWords = (count) => (has(`causes.count.${count}`) ? say(`causes.count.${count}`) : String(count));

/** @param {string} code */
export const quantityOf = (code) => code.slice(0, code.lastIndexOf("_"));

/** A field's own words. @param {string} path */
export const fieldWords = (path) => fieldName(path.split("."));

/** The test where one sentence speaks of it, and how its quantities are to be judged. @param {Expected} expected */
export const narrowest = (expected) => ({ chart: expected.chart, fleet: expected.fleet })[expected.by] ?? expected;

/**
 * What the causes are read from: two gauges, one, or readings in general where lines were clamped or none was on.
 *
 * @param {JudgedTest} judged
 * @param {Rulebook} rulebook
 */
function meansOf({ evidence }, { strips }) {
  const read = new Set(evidence.map(({ code }) => quantityOf(code)).filter((name) => name in strips.figures));
  const gauges = ["low_saturation_c", "condenser_split_k"].filter((name) => read.has(name)).length;
  const others = ["vent_c", "vent_over_evaporating_k"].filter((name) => read.has(name)).length;
  return read.size > gauges + others || gauges === 0 ? "readings" : gauges === 2 ? "two" : "one";
}

// The first of these that is not met by its narrowest yardstick leads the sentence.
const TOLD = ["condenser_split_k", "low_saturation_c", "vent_c"];

/** What stands out, where a yardstick says so. @param {TakenTest} taken */
function standsOut({ test, judged }) {
  for (const name of TOLD) {
    const value = judged.derived[name]?.value ?? /** @type {Tree} */ (test.readings ?? {})[name];
    const expected = judged.expected[name];
    if (value === undefined || expected === undefined || expected.outside) continue;
    const { low, high } = narrowest(expected);
    if (value < low || value > high) return say(`phone.found.${name}_${value < low ? "below" : "above"}`);
  }
  return null;
}

/** @param {TakenTest} taken @param {About} about */
function healthyWords({ test }, { speak }) {
  const { ambient_c: ambient } = test.conditions ?? {};
  if (typeof ambient !== "number") return say("phone.found.healthy");
  return say("phone.found.healthy_at", { ambient: speak.temperature(ambient) });
}

/**
 * What a test points to, in a sentence or two. That nothing is wrong leads, unless something clearly beats it.
 *
 * @param {TakenTest} taken
 * @param {About} about
 */
export function findingWords(taken, about) {
  const { judged } = taken;
  const { causes: [{ id: first }], undecided } = judged;
  if (undecided.length === 0 && first === "healthy") return healthyWords(taken, about);
  const out = standsOut(taken);
  if (undecided.length === 0) return sentences([out, sentenceCase(`${nameOf(first)}.`)]);
  const names = heldOf(judged, about.rulebook).filter((id) => id !== "healthy").map(nameOf);
  const words = { count: inWords(names.length), causes: either(names) };
  const many = undecided.length > LETTERED;
  const means = meansOf(judged, about.rulebook);
  if (first === "healthy") return say(many ? `phone.found.nothing_many_${means}` : "causes.said.nothing", words);
  const open = names.length === 1 ? "causes.said.open_one" : many ? `phone.found.open_${means}` : "causes.said.open";
  const healthy = names.length < undecided.length && say("causes.said.not_healthy");
  return sentences([out, sentenceCase(say(open, words)), healthy]);
}

/**
 * What of these tests lies outside what the yardsticks are for, each reason once.
 *
 * @param {TakenTest[]} tests
 */
export function reasonsOf(tests) {
  const codes = [...new Set(tests.flatMap(({ judged }) => judged.range))];
  return codes.map((code) => say(`causes.range.${code}`)).join(", ");
}

/**
 * Why nothing can be said of a test: nothing was read, nothing can be judged, or too little was read for it.
 *
 * @param {TakenTest} taken
 */
export function untoldWords(taken) {
  if (!wasRead(taken)) return say("phone.found.unread");
  if (taken.judged.causes.length === 0) return say("causes.said.unjudged", { reasons: reasonsOf([taken]) });
  const { unknown } = taken.judged;
  const needs = unknown.filter(({ what }) => TOLD.includes(what)).flatMap((one) => one.needs);
  const asked = [...new Set([...needs, "vent_c"])].map(fieldWords);
  return say("phone.found.too_little", { fields: listed(asked) });
}

/**
 * The two sides' change as measured, with what is not claimed about it.
 *
 * @param {TakenTest[]} tests
 * @param {(tests: TakenTest[]) => string[]} changes the sentences of what changed
 */
const measured = (tests, changes) => {
  const said = changes(tests);
  return sentences([...(said.length === 0 ? [say("phone.change.none")] : said), say("phone.change.weather")]);
};

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
 * @param {About & {changes: (tests: TakenTest[]) => string[]}} about
 */
export function headline(tests, comparison, about) {
  if (tests.length === 0) return say("phone.result.none");
  if (tests.length === 1) return hasCauses(tests[0].judged) ? findingWords(tests[0], about) : untoldWords(tests[0]);
  if (comparison === null) return measured(tests, about.changes);
  const finding = verdictWords(comparison);
  if (!["better", "worse"].includes(comparison.verdict)) return finding;
  return say("phone.result.verdict", { verdict: term("verdict", comparison.verdict), finding });
}
