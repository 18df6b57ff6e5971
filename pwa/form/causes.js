// What could be wrong: the causes held open as a set, what was seen or measured of each, and the check that comes next.
// DOM only: set and evidence come from the judgement, words from the rulebook. No weight is shown, nothing is ranked.

import { either } from "../language/formats.js";
import { has, say, term } from "../language/words.js";
import { el, folded } from "./elements.js";
import { helpKey } from "./help.js";
import { sentenceCase, sentences } from "./words.js";

const LETTERS = ["A", "B", "C"];

/** @param {string} id */
const nameOf = (id) => say(`causes.causes.${id}.name`);

/** A small number in a word, where the language has one for it. @param {number} count */
const inWords = (count) => (has(`causes.count.${count}`) ? say(`causes.count.${count}`) : count);

/**
 * The causes held open in the order of the trade, or the one that stands alone; none where that is healthy.
 *
 * @param {JudgedTest} judged
 * @param {Rulebook} rulebook
 */
function heldOf({ causes, undecided }, rulebook) {
  const held = undecided.length > 0 ? undecided : [causes[0].id];
  return held.join() === "healthy" ? [] : rulebook.causes.order.filter((id) => held.includes(id));
}

/** @type {Record<string, (value: number, speak: Speaker) => string>} */
const FIGURES = {
  temperature: (value, speak) => speak.temperature(value),
  temperature_difference: (value, speak) => speak.difference(value),
  pressure: (value, speak) => speak.pressure(value),
  percent: (value, speak) => `${speak.bare("percent", 100 * value)} %`,
};

/** @param {string} code */
const quantityOf = (code) => code.slice(0, code.lastIndexOf("_"));

/**
 * A thing that was seen or measured, its figures in the units a person reads.
 *
 * @param {{code: string, values: Record<string, number>}} evidence
 * @param {About} about
 */
function evidenceWords({ code, values }, { rulebook, speak }) {
  const kind = rulebook.strips.figures[quantityOf(code)];
  const figures = Object.entries(values).map(([name, value]) => [name, FIGURES[kind]?.(value, speak) ?? ""]);
  return say(`causes.evidence.${code}`, Object.fromEntries(figures));
}

/**
 * What a test points to, in a sentence or two.
 *
 * @param {JudgedTest} judged
 * @param {Rulebook} rulebook
 */
export function findingWords(judged, rulebook) {
  const { causes: [{ id: first }], undecided } = judged;
  if (undecided.length === 0 && first === "healthy") return say("causes.said.healthy");
  if (undecided.length === 0) return sentenceCase(`${nameOf(first)}.`);
  const names = heldOf(judged, rulebook).filter((id) => id !== "healthy").map(nameOf);
  const words = { count: inWords(names.length), causes: either(names) };
  const many = undecided.length > LETTERS.length;
  if (first === "healthy") return say(many ? "causes.said.nothing_many" : "causes.said.nothing", words);
  const open = sentenceCase(say(names.length === 1 ? "causes.said.open_one" : "causes.said.open", words));
  return names.length < undecided.length ? `${open} ${say("causes.said.not_healthy")}` : open;
}

/**
 * Whether a test has causes and evidence of them; of one where nothing was read there is nothing to say.
 *
 * @param {JudgedTest} judged
 */
export const hasCauses = (judged) => judged.causes.length > 0 && judged.evidence.length > 0;

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
 * Why no causes are named of tests that hold a reading; null where they are.
 *
 * @param {TakenTest[]} tests
 */
export function unjudgedWords(tests) {
  const open = tests.filter(({ test, judged }) =>
    judged.causes.length === 0 && Object.keys(test.readings ?? {}).length > 0);
  const reasons = reasonsOf(open);
  return reasons === "" ? null : say("causes.said.unjudged", { reasons });
}

/** @param {string[]} held @param {Rulebook} rulebook */
function bracket(held, rulebook) {
  if (held.length <= LETTERS.length) {
    const items = held.map((id, at) => el("li", null, el("b", null, LETTERS[at]), nameOf(id)));
    return el("ol", { class: "bracket" }, items);
  }
  return el("dl", { class: "bracket" }, Object.entries(rulebook.strips.families).flatMap(([family, members]) => {
    const names = members.filter((id) => held.includes(id)).map(nameOf);
    if (names.length === 0) return [];
    return [el("dt", null, say(`causes.families.${family}`)), el("dd", null, names.join(", "))];
  }));
}

/** Whether a check would turn out differently. @param {JudgedTest} judged */
const tells = ({ next_check: check }) => new Set(check?.shows.map(({ code }) => code)).size > 1;

/** How a check would turn out, in a word. @param {string} code */
function showing(code) {
  const side = `causes.shows.${code.slice(code.lastIndexOf("_") + 1)}`;
  return say(has(side) ? side : `causes.shows.${code.startsWith("no_") ? "no" : "yes"}`);
}

/** What a check tells of: how a quantity would be, or a thing seen. @param {string} code @param {Rulebook} rulebook */
function subject(code, rulebook) {
  const quantity = quantityOf(code);
  const what = quantity in rulebook.strips.figures
    ? say("causes.said.would_be", { what: term("derived", quantity) })
    : say("causes.said.would_see", { what: say(`causes.evidence.${code.replace(/^no_/, "")}`) });
  return sentenceCase(what);
}

/** @param {NextCheck} check */
function checkName({ minutes, what }) {
  const check = say(`causes.checks.${what}`);
  return el("b", null, say("causes.said.next", { minutes, check }), helpKey("check", what, sentenceCase(check)));
}

/** The next check by itself, and how many causes it leaves. @param {JudgedTest} judged */
function checkView({ next_check: check, undecided }) {
  if (check === null) return null;
  const left = Math.max(1, Math.floor(undecided.length - check.gain + 0.5));
  return el("p", { class: "check-next" }, checkName(check), " ",
    undecided.length > 1 && say("causes.said.leaves", { count: inWords(left) }));
}

/**
 * A row for each thing that was seen or measured, a column for each cause, the next check as the last row.
 *
 * @param {JudgedTest} judged
 * @param {string[]} held
 * @param {About} about
 */
function grid(judged, held, about) {
  const { evidence, next_check: check } = judged;
  /** @param {string} kind */
  const mark = (kind) => el("span", { class: kind }, el("span", { class: "unseen" }, say(`causes.said.${kind}`)));
  const heads = held.map((_, at) => el("th", { scope: "col" }, LETTERS[at]));
  /** @param {Child[]} head @param {(id: string) => Child} cell @param {string} [name] */
  const row = (head, cell, name) =>
    el("tr", { class: name }, el("th", { scope: "row" }, head), held.map((id) => el("td", null, cell(id))));
  const rows = evidence.map((one) =>
    row([sentenceCase(evidenceWords(one, about))], (id) => mark(one.on[id] ?? "silent")));
  const codes = Object.fromEntries((check?.shows ?? []).map(({ id, code }) => [id, code]));
  const last = check && tells(judged) && row(
    [checkName(check), el("br"), subject(check.shows[0].code, about.rulebook)],
    (id) => codes[id] && showing(codes[id]), "check-next",
  );
  if (rows.length === 0 && !last) return [];
  return [
    el("table", { class: "grid" },
      el("thead", null, el("tr", null, el("th", { scope: "col" }, say("causes.said.seen")), heads)),
      el("tbody", null, rows, last)),
    rows.length > 0 && el("p", { class: "meaning grid", "aria-hidden": "true" },
      ["fits", "against", "silent"].map((kind) => el("span", null, mark(kind), say(`causes.said.${kind}`)))),
  ];
}

/** The evidence of the one cause that stands alone. @param {JudgedTest} judged @param {About} about */
function evidenceLines({ causes: [{ id }], evidence }, about) {
  return [["fits", "for"], ["against", "however"]].flatMap(([kind, text]) => {
    const words = evidence.filter(({ on }) => on[id] === kind).map((row) => evidenceWords(row, about)).join("; ");
    return words === "" ? [] : [el("p", { class: "sentence" }, say(`causes.said.${text}`, { evidence: words }))];
  });
}

/** What each cause means and what to do, folded away. @param {string[]} held */
function fold(held) {
  const means = held.filter((id) => id !== "healthy").flatMap((id) => {
    const parts = ["technician", "confirm", "takes", "mind"];
    const text = sentences(parts.map((part) => say(`causes.causes.${id}.${part}`)));
    const name = sentenceCase(nameOf(id));
    return [el("h3", null, name, helpKey("cause", id, name)), el("p", { class: "sentence" }, text)];
  });
  return means.length > 0 && folded(say("causes.said.means"), means);
}

/**
 * What these readings cannot show, and who may open the circuit.
 *
 * @param {JudgedTest} judged
 * @param {string[]} held those that are lettered
 * @param {Rulebook} rulebook
 */
function notes(judged, held, rulebook) {
  const { certified } = rulebook.strips;
  return [
    ((held.includes("undercharge") && held.length > 1) || judged.causes[0].id === "healthy") && "weigh",
    held.includes("non_condensables") && "mixed",
    held.some((id) => certified.includes(id)) && "opening",
  ].flatMap((code) => (code ? [el("p", { class: "meaning" }, say(`causes.said.${code}`))] : []));
}

/**
 * One test's causes, in full; or in short below those of an earlier test, whose next check is not said again. Null
 * where none were worked out or nothing was read. The finding of a test that is the only one stands at the head of the
 * page.
 *
 * @param {number} place
 * @param {TakenTest[]} tests
 * @param {About} about
 */
export function causesView(place, tests, about) {
  const { role, judged } = tests[place];
  if (!hasCauses(judged)) return null;
  const { rulebook } = about;
  const title = `causes.said.title_${role}`;
  const held = heldOf(judged, rulebook);
  const many = held.length > LETTERS.length;
  const short = place > 0;
  const again = short && tests[0].judged.next_check?.what === judged.next_check?.what;
  const lettered = held.length > 1 && !many && !short;
  const apart = !again && !(lettered && tells(judged));
  return el(
    "section", { class: "doubts" },
    el("h2", null, say(has(title) ? title : "causes.said.title")),
    tests.length > 1 && el("p", { class: "sentence" }, findingWords(judged, rulebook)),
    apart && checkView(judged),
    held.length > 1 && bracket(held, rulebook),
    lettered && grid(judged, held, about),
    !short && held.length === 1 && evidenceLines(judged, about),
    !short && fold(held),
    !short && notes(judged, many ? [] : held, rulebook),
  );
}

/**
 * The customer's sentence for the cause that stands alone; null where none does.
 *
 * @param {JudgedTest | undefined} judged
 * @returns {string | null}
 */
export function customerWords(judged) {
  if (judged === undefined || !hasCauses(judged) || judged.undecided.length > 0) return null;
  return say(`causes.causes.${judged.causes[0].id}.customer`);
}
