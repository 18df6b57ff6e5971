// What changed between two tests, and how much is due to weather and work: two bars from one zero, and in words.
// DOM only: every figure comes from the judgement, every sentence from the rulebook.

import { drawn, el, folded } from "./elements.js";
import { changeOf, cellOf, ROWS } from "./meanings.js";
import { say, term } from "../language/words.js";
import { sentenceCase } from "./words.js";

/**
 * What each side's gauge did, as measured.
 *
 * @param {TakenTest[]} tests
 * @param {Speaker} speak
 */
export const changesWords = (tests, speak) =>
  ROWS.filter((row) => row.side !== undefined).flatMap((row) => {
    const [before, after] = tests.map(({ test, judged }) => cellOf(row, test, judged));
    if (before === undefined || after === undefined) return [];
    const { way, amount } = changeOf(row, before, after, speak);
    return [say(`phone.change.${row.side}.${way}`, { amount })];
  });

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
 * Two bars from one zero, the weather's outlined, the work's filled; the interval is a bracket under the work.
 *
 * @param {Shares} shares
 */
function sharesDrawn({ kpa: { weather, work, interval }, ...words }) {
  const all = [0, weather, work, ...interval];
  const [least, most] = [Math.min(...all), Math.max(...all)];
  /** @param {number} kpa */
  const x = (kpa) => 8 + (312 * (kpa - least)) / (most - least || 1);
  /** @param {number} kpa @param {number} y @param {string} name */
  const bar = (kpa, y, name) => {
    const width = Math.abs(x(kpa) - x(0));
    return drawn("rect", { class: name, x: Math.min(x(0), x(kpa)), y, width, height: 14 });
  };
  const [low, high] = interval.map(x);
  const label = say("phone.share.picture", words);
  return drawn(
    "svg", { class: "shares", viewBox: "0 0 328 66", role: "img", "aria-label": label },
    bar(weather, 4, "weather"), bar(work, 24, "work"),
    drawn("path", { class: "interval", d: `M${low} 43v10M${high} 43v10M${low} 48H${high}` }),
    drawn("circle", { class: "middle", cx: x(work), cy: 48, r: 3.5 }),
    drawn("path", { class: "zero", d: `M${x(0)} 0v53` }),
    drawn("text", { x: x(0), y: 65 }, "0"),
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
  return el(
    "section", { class: "doubts" },
    shares && el("h2", null, say("phone.share.title", { unit: shares.unit })),
    shares && el("p", { class: "meaning" }, shares.weather),
    shares && sharesDrawn(shares),
    shares && el("p", { class: "meaning" }, shares.work),
    remarks(comparison),
  );
}
