// What the readings fit: the leading causes with what speaks for and against each, ties, and the check that tells most.
// DOM only: ranking and evidence come from the judgement, words from the rulebook. No fit is shown as a percentage.

import { el, folded } from "./elements.js";
import { sentenceCase } from "./words.js";

const LEADING = 2;

/** @param {Rulebook} rulebook @returns {Tree} */
const wordsOf = ({ cause_words: book }) => ({ ...book.languages.en, figures: book.figures });

/**
 * The best cause, and the second where it is not told apart from the first; none where too many are open.
 *
 * @param {JudgedTest} judged
 * @param {Rulebook} rulebook
 */
function leadingOf({ causes, undecided }, rulebook) {
  const { near, most } = rulebook.causes.told_apart;
  if (undecided.length > most) return [];
  return causes.slice(0, LEADING).filter((cause) => cause.fit >= near * causes[0].fit);
}

/** @type {Record<string, (value: number, speak: Speaker) => string>} */
const FIGURES = {
  temperature: (value, speak) => speak.temperature(value),
  temperature_difference: (value, speak) => speak.difference(value),
  pressure: (value, speak) => speak.pressure(value),
  percent: (value, speak) => `${speak.bare("percent", 100 * value)} %`,
  times: (value) => value.toFixed(1),
};

/** @param {string} code @param {number} value @param {Tree} words @param {Speaker} speak */
const figure = (code, value, words, speak) =>
  FIGURES[words.figures[code.slice(0, code.lastIndexOf("_"))]](value, speak);

/** @param {Tree} evidence @param {Tree} words @param {Speaker} speak */
const evidenceWords = ({ code, values }, words, speak) =>
  sentenceCase(
    Object.entries(values).reduce(
      (text, [name, value]) => text.replace(`{${name}}`, figure(code, value, words, speak)),
      words.evidence[code],
    ),
  );

/** @param {string} text */
const meaning = (text) => el("p", { class: "meaning" }, text);

/** @type {[side: "for" | "against", words: string][]} */
const SIDES = [["for", "For it"], ["against", "Against it"]];

/**
 * What speaks for a cause and against it, a line each.
 *
 * @param {Tree} cause
 * @param {Tree} words
 * @param {Speaker} speak
 */
function sides(cause, words, speak) {
  /** @param {Tree[]} items */
  const lines = (items) => items.map((item) => evidenceWords(item, words, speak));
  const rows = SIDES.filter(([side]) => cause[side].length > 0).flatMap(([side, name]) => [
    el("dt", null, name), ...lines(cause[side]).map((line) => el("dd", null, line)),
  ]);
  return rows.length === 0 ? [] : [el("dl", { class: "evidence" }, rows)];
}

/** @param {Tree} cause @param {boolean} first @param {Tree} words @param {Speaker} speak */
function causeView(cause, first, words, speak) {
  const own = words.causes[cause.id];
  const more = [own.technician, own.confirm, own.takes, own.mind].filter((part) => part);
  return [
    el("p", { class: "cause" }, words.said[first ? "first" : "second"].replace("{cause}", own.name)),
    ...sides(cause, words, speak),
    folded("What it means, and what to do", more.map((text) => el("p", { class: "sentence" }, text))),
  ];
}

/**
 * What to mind beside the causes: what cannot be seen, what else it may be, and who may open the circuit.
 *
 * @param {Tree[]} leading
 * @param {Tree} words
 * @returns {string[]}
 */
function notes(leading, words) {
  const ids = leading.map((cause) => cause.id);
  return [
    (ids.includes("undercharge") || ids[0] === "healthy") && words.said.weigh,
    ids.includes("non_condensables") && words.said.mixed,
    ids.some((id) => words.causes[id].takes.includes("certified people")) && words.said.opening,
  ].filter((text) => text);
}

/** @param {JudgedTest} judged @param {Rulebook} rulebook @returns {string | null} */
function tiedWords(judged, rulebook) {
  const words = wordsOf(rulebook);
  if (judged.undecided.length > rulebook.causes.told_apart.most) {
    return words.said[judged.causes[0].id === "healthy" ? "many_sound" : "many"];
  }
  const names = judged.undecided.map((id) => words.causes[id].name);
  if (names.length === 0) return null;
  return words.said.tied.replace("{causes}", `${names.slice(0, -1).join(", ")} and ${names.at(-1)}`);
}

/** @param {JudgedTest | undefined} judged @returns {string | null} */
const checkOf = (judged) => judged?.next_check?.what ?? null;

/**
 * One test's causes, in full; or in short below those of `earlier`, whose next check is not said again. Null where none
 * were worked out.
 *
 * @param {string} name
 * @param {JudgedTest} judged
 * @param {{rulebook: Rulebook, speak: Speaker}} about
 * @param {JudgedTest | undefined} earlier
 */
export function causesView(name, judged, { rulebook, speak }, earlier) {
  if (judged.causes.length === 0) return null;
  const words = wordsOf(rulebook);
  const leading = leadingOf(judged, rulebook);
  const tied = tiedWords(judged, rulebook);
  const short = earlier !== undefined;
  const next = checkOf(judged) === checkOf(earlier) ? null : checkOf(judged);
  const check = next === null ? null : words.said.check.replace("{check}", words.checks[next]);
  return el(
    "section", { class: "doubts" },
    el("h2", null, `What the readings fit, ${name}`),
    leading.flatMap((cause, place) => causeView(cause, place === 0, words, speak).slice(0, short ? 1 : undefined)),
    tied && meaning(tied),
    check && el("p", { class: "sentence" }, check),
    !short && notes(leading, words).map(meaning),
  );
}

/**
 * The customer's sentence for what fits best, where that can be told; null otherwise.
 *
 * @param {JudgedTest | undefined} judged
 * @param {Rulebook} rulebook
 * @returns {string | null}
 */
export function customerWords(judged, rulebook) {
  if (judged === undefined || judged.causes.length === 0 || judged.undecided.length > 0) return null;
  return wordsOf(rulebook).causes[judged.causes[0].id].customer;
}
