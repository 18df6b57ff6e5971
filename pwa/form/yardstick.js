// The yardstick strip: where a reading lies against healthy cars, the maker's chart and an earlier test of this car.
// DOM only: figures come from the judgement, the scale and every sentence from the rulebook.

import { drawn } from "./elements.js";
import { narrowest } from "./found.js";
import { day, dayAt } from "../language/formats.js";
import { say } from "../language/words.js";

const [LEFT, RIGHT] = [12, 316];
// Two pins closer than this have no arrow between them.
const ROOM = 16;

/** @param {Span | null} span @param {number} value */
export const within = (span, value) => span !== null && span.low <= value && value <= span.high;

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
export function picture(strip, values, expected, { label, dashed, figure }) {
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
export function sentence(value, expected, { figure, ...words }) {
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
