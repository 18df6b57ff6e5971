// What could be wrong: the set of causes held open, what was seen or measured for each, and the next check.
// DOM only: set and evidence come from the judgement, words from the rulebook. No weight is shown, nothing is ranked.

import { hasCauses, heldOf, layoutOf, LETTERED } from "../visit/leading.js";
import { aside_of } from "../kernel.js";
import { has, say, term } from "../language/words.js";
import { el, folded } from "./elements.js";
import { findingWords, inWords, quantityOf } from "./found.js";
import { helpKey } from "./help.js";
import { sentenceCase, sentences } from "./words.js";

const LETTERS = ["A", "B", "C"];

/** @param {string} id */
const nameOf = (id) => say(`causes.causes.${id}.name`);

/** @type {Record<string, (value: number, speak: Speaker) => string>} */
const FIGURES = {
  temperature: (value, speak) => speak.temperature(value),
  temperature_difference: (value, speak) => speak.difference(value),
  pressure: (value, speak) => speak.pressure(value),
  percent: (value, speak) => `${speak.bare("percent", 100 * value)} %`,
};

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

/** @param {string[]} held @param {Rulebook} rulebook */
function bracket(held, rulebook) {
  if (held.length <= LETTERED) {
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

/** What a check shows: how a quantity would be, or a thing seen. @param {string} code @param {Rulebook} rulebook */
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

/** The next check by itself: how many causes it leaves, and what it shows. @param {JudgedTest} judged */
export function checkView({ next_check: check, undecided }) {
  if (check === null) return null;
  const left = Math.max(1, Math.floor(undecided.length - check.gain + 0.5));
  return el("p", { class: "check-next" }, checkName(check), " ",
    undecided.length > 1 && el("span", null, say("causes.said.leaves", { count: inWords(left) })));
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
 * Over the causes of a test: how many stay open, where they are too many to letter.
 *
 * @param {TakenTest} taken
 * @param {string[]} held
 * @param {boolean} alone
 */
function titleOf({ role, judged }, held, alone) {
  const title = `causes.said.title_${role}`;
  const first = judged.causes[0].id === "healthy";
  if (held.length <= LETTERED || !alone) return say(has(title) ? title : "causes.said.title");
  const count = inWords(held.filter((id) => id !== "healthy").length);
  return sentenceCase(say(first ? "phone.found.held_besides" : "phone.found.held", { count }));
}

/**
 * One test's causes, in full where the result speaks of it, else in short. Null where none were worked out or nothing
 * was read. The finding of a test that is the only one stands at the head of the page, and so does the check where the
 * causes are too many to letter.
 *
 * @param {TakenTest} taken
 * @param {TakenTest[]} tests
 * @param {About} about
 */
export function causesView(taken, tests, about) {
  const { judged } = taken;
  if (!hasCauses(judged)) return null;
  const { rulebook } = about;
  const held = heldOf(judged, rulebook);
  const layout = layoutOf(taken, rulebook);
  const full = tests.findLast((one) => hasCauses(one.judged)) === taken;
  const lettered = full && layout === "few";
  const apart = full && layout !== "many" && !(lettered && tells(judged));
  return el(
    "section", { class: "doubts" },
    el("h2", null, titleOf(taken, held, tests.length === 1)),
    tests.length > 1 && el("p", { class: "sentence" }, findingWords(taken, about)),
    tests.length === 1 && layout === "healthy" && el("p", { class: "sentence" }, say("phone.found.nothing")),
    apart && checkView(judged),
    held.length > 1 && bracket(held, rulebook),
    lettered && grid(judged, held, about),
    full && layout === "one" && evidenceLines(judged, about),
    full && fold(held),
    full && notes(judged, layout === "many" ? [] : held, rulebook),
  );
}

/**
 * What speaks against the causes that are not held open. Worked out only once a person looks.
 *
 * @param {TakenTest} taken
 * @param {Visit} visit
 * @param {About} about
 */
export function asideFold({ test, judged }, visit, about) {
  if (!hasCauses(judged)) return null;
  const count = judged.causes.filter(({ id }) => id !== "healthy").length
    - (heldOf(judged, about.rulebook).filter((id) => id !== "healthy").length);
  if (count === 0) return null;
  const rows = el("ul", { class: "aside-list" });
  const root = folded(say("phone.found.aside", { count, number: inWords(count) }), [rows]);
  root.addEventListener("toggle", () => {
    if (!root.open) return;
    const others = aside_of(visit, test, judged, about.rulebook).filter(({ id }) => id !== "healthy");
    rows.replaceChildren(...others.map(({ id, against }) => {
      const why = against.map((one) => evidenceWords(one, about)).join("; ");
      return el("li", null, el("b", null, sentenceCase(nameOf(id))), why || say("phone.found.fits_less"));
    }));
  });
  return root;
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
