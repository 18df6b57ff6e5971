// The yardstick strip: where a reading lies against healthy cars, the maker's chart and an earlier test of this car.
// DOM only: figures come from the judgement, the scale and every sentence from the rulebook.

import { drawn, el } from "./elements.js";
import { hasCauses, reasonsOf } from "./causes.js";
import { day, dayAt } from "../language/formats.js";
import { say } from "../language/words.js";

const [LEFT, RIGHT] = [12, 316];
// Two pins closer than this have no arrow between them.
const ROOM = 16;

/** @param {Span | null} span @param {number} value */
const within = (span, value) => span !== null && span.low <= value && value <= span.high;

/**
 * The range of the narrowest yardstick; around an earlier test it is that of all together.
 *
 * @param {Expected} expected
 */
const narrowest = (expected) => ({ chart: expected.chart, fleet: expected.fleet })[expected.by] ?? expected;

/** @param {string} text */
const note = (text) => el("p", { class: "meaning" }, text);

/** @param {Strip} strip @param {TakenTest} taken @returns {number | undefined} */
const valueOf = ({ of }, { test, judged }) =>
  judged.derived[of]?.value ?? /** @type {Tree} */ (test.readings ?? {})[of];

/**
 * A reading from above: ring or dot, a wedge where it lies beyond the scale.
 *
 * @param {Strip} strip
 * @param {number} x
 * @param {number} value
 * @param {boolean} ring
 */
function pin({ low, high }, x, value, ring) {
  const side = value > high ? 1 : value < low ? -1 : 0;
  return [
    drawn("path", { class: "halo", d: `M${x} 11V28` }),
    drawn("path", { class: "stem", d: `M${x} 11V28` }),
    side !== 0 && drawn("path", { d: `M${x + side * 7} 17l${side * 4} 4l${-side * 4} 4` }),
    drawn("circle", { class: ring ? "ring" : "dot", cx: x, cy: 7, r: ring ? 4 : 5 }),
  ];
}

/** @param {number} from @param {number} to */
function arrow(from, to) {
  const way = Math.sign(to - from);
  const d = `M${from + way * 7} 7H${to - way * 7}m${-way * 4} -3.5l${way * 4} 3.5l${-way * 4} 3.5`;
  return Math.abs(to - from) > ROOM && drawn("path", { d });
}

/**
 * @param {Strip} strip
 * @param {number[]} values
 * @param {Expected | undefined} expected
 * @param {{label: string, dashed: boolean, figure: (value: number) => string}} words
 */
function picture(strip, values, expected, { label, dashed, figure }) {
  const { fleet, chart, history } = expected ?? { fleet: null, chart: null, history: null };
  /** @param {number} value */
  const x = (value) =>
    LEFT + (RIGHT - LEFT) * Math.min(1, Math.max(0, (value - strip.low) / (strip.high - strip.low)));
  /** @param {Span} span @param {string} name @param {number} height */
  const box = ({ low, high }, name, height) =>
    drawn("rect", { class: name, x: x(low), y: 21 - height / 2, width: x(high) - x(low), height });
  const ends = fleet === null ? [] : [fleet.low, fleet.high];
  const ticks = ends.filter((end) => within(strip, end)).map((end) => `M${x(end)} 12v18`).join("");
  const last = values.length - 1;
  return drawn(
    "svg", { class: `strip ${strip.side}`, viewBox: "0 0 328 49", role: "img", "aria-label": label },
    fleet && box(fleet, "band", 14),
    drawn("path", { class: "axis", d: `M${LEFT} 21H${RIGHT}` }),
    drawn("path", { class: dashed ? "axis dashed" : "axis", d: ticks }),
    ends.map((end) => drawn("text", { x: Math.max(20, x(end)), y: 45 }, figure(end))),
    chart && box(chart, "chart", 8),
    history && drawn("path", { class: "own", d: `M${x(history.value)} 21v9l-5 5 5 5 5 -5 -5 -5` }),
    values.flatMap((value, place) => pin(strip, x(value), value, place < last)),
    last > 0 && arrow(x(values[0]), x(values[last])),
  );
}

/**
 * The reading, the narrowest yardstick and where the reading lies; and whether that is to be read without asking.
 *
 * @param {number} value
 * @param {Expected | undefined} expected
 * @param {{what: string, value: string, figure: (value: number) => string}} words
 */
function sentence(value, expected, { figure, ...words }) {
  if (expected === undefined) return { text: say("causes.yardstick.none", words), wanted: false };
  const { by, fleet, history, outside } = expected;
  const { low, high } = narrowest(expected);
  const place = value < low ? "below" : value > high ? "above" : "within";
  const own = history === null ? "" : figure(history.value);
  const date = history === null ? "" : day(dayAt(history.at.slice(0, 10)));
  const parts = [
    say(`causes.yardstick.${by}_${place}`, { ...words, own, date, low: figure(low), high: figure(high) }),
    place !== "within" && by !== "fleet" && within(fleet, value) && say("causes.yardstick.wider"),
    outside && say("causes.yardstick.outside"),
  ];
  return { text: parts.filter((part) => part).join(" "), wanted: outside || place !== "within" };
}

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

/**
 * The strip of one quantity: its name and figures, the picture, and its sentence where that is to be read.
 *
 * @param {ReturnType<typeof partsOf>} parts
 * @param {About} about
 */
function stripView({ strip, taken, expected, dashed }, { speak }) {
  const values = taken.map((test) => Number(valueOf(strip, test)));
  /** @param {number} value */
  const figure = (value) => speak.bare(strip.quantity, value);
  const [before, after = before] = values.map(figure);
  const text = after === before ? before : say("causes.yardstick.pair", { before, after });
  const unit = speak.labelFor(strip.quantity);
  const words = { what: say(`causes.yardstick.${strip.of}`), value: `${text}\u00a0${unit}`, figure };
  const { text: label, wanted } = sentence(values[values.length - 1], expected, words);
  return [
    el("p", { class: `measure ${strip.side}` }, words.what, el("b", null, text, el("small", null, unit))),
    picture(strip, values, expected, { label, dashed, figure }),
    wanted && note(label),
  ];
}

/**
 * The strip of one quantity alone, for a reading that is being taken; null where it says nothing yet.
 *
 * @param {string} of
 * @param {TakenTest[]} tests
 * @param {About} about
 */
export function oneStrip(of, tests, about) {
  const strip = about.rulebook.strips.strips.find((one) => one.of === of);
  if (strip === undefined || tests.length === 0) return null;
  const parts = partsOf(strip, tests);
  return parts.taken.length === 0 ? null : el("section", null, stripView(parts, about));
}

/**
 * A strip for each quantity of the book that was recorded, in the weather of the last test that has it; and why a
 * reading within the range of healthy cars can still point to a fault.
 *
 * @param {TakenTest[]} tests
 * @param {About} about
 */
export function stripsView(tests, about) {
  const { strips: { strips } } = about.rulebook;
  if (tests.length === 0) return null;
  const shown = strips.map((strip) => partsOf(strip, tests)).filter(({ taken }) => taken.length > 0);
  const leading = tests.find(({ judged }) => hasCauses(judged));
  const inside = shown.filter(({ taken, fleet }) => leading !== undefined && taken.includes(leading) && fleet !== null)
    .map(({ strip, fleet }) => within(fleet, Number(valueOf(strip, /** @type {TakenTest} */ (leading)))));
  const together = leading?.judged.causes[0].id !== "healthy" && inside.length > 0 && inside.every((holds) => holds);
  const reasons = reasonsOf(tests.filter(({ judged }) => judged.causes.length > 0));
  return shown.length > 0 && el(
    "section", null, shown.flatMap((parts) => stripView(parts, about)),
    shown.some(({ dashed }) => dashed) && note(say("causes.yardstick.range", { reasons })),
    together && note(say("causes.yardstick.together")),
  );
}
