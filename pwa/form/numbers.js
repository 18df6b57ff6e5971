// The three numbers of a result: vent, high side over ambient, evaporating, each with its change and its yardstick.
// DOM only: figures come from the judgement, the order and every sentence from the rulebook.

import { hasCauses } from "../visit/leading.js";
import { el } from "./elements.js";
import { fieldWords, narrowest, reasonsOf } from "./found.js";
import { cellOf, changeOf, ROWS } from "./meanings.js";
import { listed } from "../language/formats.js";
import { say, term } from "../language/words.js";
import { beside, sentenceCase } from "./words.js";
import { picture, sentence, within } from "./yardstick.js";

/** @param {string} text */
const note = (text) => el("p", { class: "meaning" }, text);

/** @param {Strip} strip @param {TakenTest} taken @returns {number | undefined} */
const valueOf = ({ of }, { test, judged }) =>
  judged.derived[of]?.value ?? /** @type {Tree} */ (test.readings ?? {})[of];

/**
 * The range of healthy cars from no lower than the scale: a split is never negative.
 *
 * @param {Strip} strip
 * @param {Span | null} fleet
 */
const fromScale = (strip, fleet) => fleet && { ...fleet, low: Math.max(fleet.low, strip.low) };

/**
 * What a strip is made of: the first and the last test that have the quantity, what its last reading is held against,
 * and the range of healthy cars where one is known.
 *
 * @param {Strip} strip
 * @param {TakenTest[]} tests
 */
function partsOf(strip, tests) {
  const all = tests.filter((test) => valueOf(strip, test) !== undefined);
  const taken = all.filter((_, place) => place === 0 || place === all.length - 1);
  const { judged } = taken[taken.length - 1] ?? tests[0];
  const whole = judged.expected[strip.of];
  const fleet = fromScale(strip, whole?.fleet ?? null);
  const expected = whole && { ...whole, fleet };
  return { strip, taken, expected, fleet, dashed: fleet !== null && judged.range.length > 0 };
}

/** The narrowest yardstick in a word or two. @param {Expected | undefined} expected @param {Speaker["bare"]} bare */
function yardstickWords(expected, bare, quantity = "") {
  if (expected === undefined || expected.outside) return "";
  const { by, history } = expected;
  const { low, high } = narrowest(expected);
  const own = history === null ? "" : bare(quantity, history.value);
  return say(`phone.yardstick.${by}`, { low: bare(quantity, low), high: bare(quantity, high), own });
}

const SIDES = ["low", "high"].map((side) => ROWS.find((row) => row.side === side));
const VENT = ROWS.find(({ code }) => code === "vent");

/** @param {string[]} figures */
const pairWords = ([before, after = before]) =>
  (after === before ? before : say("causes.yardstick.pair", { before, after }));

/**
 * How a quantity changed, in words of its own.
 *
 * @param {string} code
 * @param {Row} row
 * @param {Cell[]} cells
 * @param {Speaker} speak
 */
function changeWords(code, row, [before, after], speak) {
  const { way, amount } = changeOf(row, before, after, speak);
  return say(`phone.yardstick.${way === "same" ? "same" : `${code}_${way}`}`, { amount });
}

/**
 * What a gauge read, from before to after, and how that changed; null where a test lacks it.
 *
 * @param {string} side
 * @param {TakenTest[]} taken
 * @param {Speaker} speak
 */
function gaugeOf(side, taken, speak) {
  const row = SIDES.find((one) => one?.side === side);
  const cells = row === undefined ? [] : taken.flatMap(({ test, judged }) => cellOf(row, test, judged) ?? []);
  if (row === undefined || cells.length < taken.length) return null;
  const figures = cells.map(({ value }) => speak.bare("pressure", value));
  return { figures, unit: speak.labelFor("pressure"), change: () => changeWords(side, row, cells, speak) };
}

/**
 * What stands under or beside the name of a quantity: the gauge behind it, how it changed.
 *
 * @param {ReturnType<typeof partsOf>} parts
 * @param {TakenTest[]} tests
 * @param {Speaker} speak
 */
function asideOf({ strip: { of, side }, taken }, tests, speak) {
  const only = taken.length === 1 && tests.length === 2 && say(`phone.yardstick.only_${taken[0].role}`);
  const gauge = gaugeOf(side, taken, speak);
  const read = gauge && `${pairWords(gauge.figures)}\u00a0${gauge.unit}`;
  const last = taken[taken.length - 1].judged.derived;
  if (of === "condenser_split_k") {
    const condensing = last.high_saturation_c && taken.length === 1
      && say("phone.means.condensing", { value: speak.temperature(last.high_saturation_c.value) });
    return beside([only, read, condensing]);
  }
  if (of !== "vent_c") return beside([only, read]);
  if (taken.length === 1) {
    const { vent_drop_k: drop } = last;
    return beside([only, drop && say("phone.yardstick.below_return", { value: speak.difference(drop.value) })]);
  }
  const [before, after] = taken.map(({ test, judged }) => cellOf(/** @type {Row} */ (VENT), test, judged));
  if (before === undefined || after === undefined) return "";
  return changeWords("vent", /** @type {Row} */ (VENT), [before, after], speak);
}

/**
 * A number from before to after, the earlier one in second ink.
 *
 * @param {string[]} figures
 * @param {string} unit
 */
function figureOf([before, after = before], unit) {
  const small = el("small", null, unit);
  if (after === before) return el("b", null, before, small);
  const [start, end] = say("causes.yardstick.pair", { before: "\n", after: "\n" }).split("\n").slice(1);
  return el("b", null, el("i", null, before), el("small", { class: "to" }, start), after, end, small);
}

/**
 * The row of one quantity: its name and figures, the picture, and its sentence where that is to be read. Where causes
 * are lettered there is no picture, and the narrowest yardstick stands in words.
 *
 * @param {ReturnType<typeof partsOf>} parts
 * @param {TakenTest[]} tests
 * @param {About} about
 * @param {{bare?: boolean, alone?: boolean}} [how] `alone` leaves out what stands beside the name
 */
function stripView(parts, tests, { speak }, { bare = false, alone = false } = {}) {
  const { strip, taken, expected, dashed } = parts;
  const values = taken.map((test) => Number(valueOf(strip, test)));
  /** @param {number} value */
  const figure = (value) => speak.bare(strip.quantity, value);
  const figures = values.map(figure);
  const unit = speak.labelFor(strip.quantity);
  const value = `${pairWords(figures)}\u00a0${unit}`;
  const words = { what: say(`causes.yardstick.${strip.of}`), value, figure };
  const { text: label, wanted } = sentence(values[values.length - 1], expected, words);
  // Of a pair the high side is what its gauge read; how far over ambient that was stands beside the name.
  const gauge = strip.side === "high" && taken.length > 1 && !bare ? gaugeOf("high", taken, speak) : null;
  const over = gauge && beside([gauge.change(), say("phone.yardstick.over_ambient", { value })]);
  const aside = !bare && !alone && el("small", null, over ?? asideOf(parts, tests, speak));
  const held = bare && el("small", null, yardstickWords(expected, speak.bare, strip.quantity));
  const name = gauge ? sentenceCase(say("phone.row.high_side")) : words.what;
  return [
    el("p", { class: `measure ${strip.side}` }, el("span", null, name, " ", aside),
      figureOf(gauge?.figures ?? figures, gauge?.unit ?? unit), held),
    !bare && picture(strip, values, expected, { label, dashed, figure }),
    !bare && wanted && note(label),
  ];
}

/**
 * A quantity that no test has: why, and what would settle it.
 *
 * @param {Strip} strip
 * @param {TakenTest[]} tests
 */
function lackingView({ of, side }, tests) {
  const lack = tests[tests.length - 1].judged.unknown.find(({ what }) => what === of);
  const needs = (lack?.needs ?? []).map(fieldWords);
  const why = needs.length === 0
    ? term("unknown", lack?.code ?? "not_taken")
    : say("phone.yardstick.needs", { needs: listed(needs) });
  return [el("p", { class: `measure ${side}` },
    el("span", null, say(`causes.yardstick.${of}`)), el("small", { class: "lacking" }, why))];
}

/**
 * The row of one quantity alone, for a reading that is being taken; null where it says nothing yet.
 *
 * @param {string} of
 * @param {TakenTest[]} tests
 * @param {About} about
 */
export function oneStrip(of, tests, about) {
  const strip = about.rulebook.strips.strips.find((one) => one.of === of);
  if (strip === undefined || tests.length === 0) return null;
  const parts = partsOf(strip, tests);
  return parts.taken.length === 0 ? null : el("section", null, stripView(parts, tests, about, { alone: true }));
}

/**
 * The same under a field: the picture of both tests, and the sentence on the last where it is to be read; none before
 * that one has the quantity.
 *
 * @param {string} of
 * @param {TakenTest[]} tests
 * @param {About} about
 * @returns {{drawing: Child, words: string}}
 */
export function stripUnder(of, tests, about) {
  const own = oneStrip(of, tests.slice(-1), about);
  const both = own && oneStrip(of, tests, about);
  return { drawing: both?.querySelector("svg"), words: own?.querySelector(".meaning")?.textContent ?? "" };
}

/**
 * The three numbers of a result, each in the weather of the last test that has it; what is lacking says so. Under them
 * why a reading within the range of healthy cars can still point to a fault.
 *
 * @param {TakenTest[]} tests
 * @param {About} about
 * @param {string} [layout]
 */
export function stripsView(tests, about, layout = "plain") {
  const { strips: { strips } } = about.rulebook;
  if (tests.length === 0) return null;
  const all = strips.map((strip) => partsOf(strip, tests));
  const shown = all.filter(({ taken }) => taken.length > 0);
  const leading = tests.findLast(({ judged }) => hasCauses(judged));
  const inside = shown.filter(({ taken, fleet }) => leading !== undefined && taken.includes(leading) && fleet !== null)
    .map(({ strip, fleet }) => within(fleet, Number(valueOf(strip, /** @type {TakenTest} */ (leading)))));
  const together = leading?.judged.causes[0].id !== "healthy" && inside.length > 0 && inside.every((holds) => holds);
  const reasons = reasonsOf(tests.filter(({ judged }) => judged.causes.length > 0));
  const bare = layout === "few" && tests.length === 1;
  return shown.length > 0 && el(
    "section", { class: "numbers" },
    all.flatMap((parts) => (parts.taken.length > 0
      ? stripView(parts, tests, about, { bare })
      : lackingView(parts.strip, tests))),
    shown.some(({ dashed }) => dashed) && note(say("causes.yardstick.range", { reasons })),
    together && !bare && note(say("causes.yardstick.together")),
  );
}
