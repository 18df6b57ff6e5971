// Waiting for a test to level: a tap logs the readings as they stand, a thin plot shows the vent, a line says how long.
// DOM only: whether it has levelled is the judgement's; instants are kept, so a frozen page loses no time.

import { say } from "../language/words.js";
import { button, drawn, el, setText } from "./elements.js";
import { withHelp } from "./help.js";
import { sentences } from "./words.js";

const [RIGHT, TOP, BOTTOM] = [222, 24, 84];

/**
 * The vent over the minutes: a dot a tap, its first and last value beside the line, a broken line where it is heading.
 *
 * @param {TracePoint[]} trace
 * @param {number | null} heading
 * @param {Speaker} speak
 */
function plotOf(trace, heading, speak) {
  const points = trace.flatMap(({ s, vent_c: value }) => (value === undefined ? [] : [{ s, value }]));
  if (points.length < 2) return null;
  const [start, end] = [points[0], points[points.length - 1]];
  const ahead = heading ?? end.value;
  const values = points.map((point) => point.value);
  const [least, most] = [Math.min(ahead, ...values), Math.max(ahead, ...values)];
  const [from, to] = [start.s, end.s];
  /** @param {{s: number}} point */
  const x = (point) => (4 + (RIGHT * (point.s - from)) / (to - from || 1)).toFixed(1);
  /** @param {number} value */
  const y = (value) => (TOP + ((BOTTOM - TOP) * (most - value)) / Math.max(most - least, 1)).toFixed(1);
  /** @param {string} sign @param {string} more */
  const along = (sign, more) =>
    points.map((point, index) => `${index === 0 ? "M" : sign}${x(point)} ${y(point.value)}${more}`).join("");
  /** @param {string} name @param {string} d */
  const path = (name, d) => drawn("path", { class: name, d });
  /** @param {{x: number, y: number}} place @param {string} line @param {string} [name] */
  const text = (place, line, name) => drawn("text", { ...place, class: name }, line);
  const [first, last] = [start.value, end.value].map(speak.temperature);
  const minutes = Math.round((to - from) / 60);
  const label = say("phone.settling.plot", { count: minutes, first, last });
  return drawn(
    "svg", { class: "plot", viewBox: "0 0 284 112", role: "img", "aria-label": label },
    path("axis", `M0 94H${RIGHT + 4}`),
    heading !== null && path("ahead", `M4 ${y(ahead)}H${RIGHT + 4}`),
    path("line", along("L", "")), path("dots", along("M", "h0")),
    text({ x: 0, y: Number(y(start.value)) - 8 }, first), text({ x: RIGHT + 12, y: Number(y(end.value)) + 4 }, last),
    text({ x: 4, y: 109 }, "0", "time"),
    text({ x: RIGHT - 10, y: 109 }, say("phone.settling.minutes", { minutes }), "time"),
  );
}

/** @param {Tree | null | undefined} levelled @param {number} count @param {Speaker} speak */
function words(levelled, count, speak) {
  if (count === 0) return say("phone.settling.first");
  if (levelled === null || levelled === undefined) return say("phone.settling.lacking");
  if (levelled.settled) return say("phone.settling.settled");
  const { heading_for: heading, wait_s: wait } = levelled;
  return sentences([
    say("phone.settling.not_settled"),
    heading !== null && say("phone.settling.heading", { value: speak.temperature(heading) }),
    wait > 0 && say("phone.settling.wait", { minutes: Math.ceil(wait / 60) }),
  ]);
}

/**
 * `log()` writes one point of the test's trace; the block is renewed with every look at the readings.
 *
 * @param {() => unknown} log
 * @returns {Part}
 */
export function levelling(log) {
  const line = el("p", { class: "meaning", role: "status" });
  const plot = el("div");
  const key = button(say("phone.settling.log"), log, { class: "quiet" });
  const logs = withHelp(key, "log_readings");
  const root = el("section", { class: "levelling" }, el("h2", null, say("phone.settling.title")), line, plot, logs);
  /** @param {Sight} sight */
  const refresh = (sight) => {
    const trace = sight.test?.trace ?? [];
    const levelled = sight.judged?.levelled;
    const count = trace.length;
    const state = words(levelled, count, sight.speak);
    setText(line, sentences([count > 0 && say("phone.settling.logged", { count }), state]));
    const drawing = plotOf(trace, levelled?.heading_for ?? null, sight.speak);
    plot.replaceChildren(...(drawing === null ? [] : [drawing]));
  };
  return { root, refresh };
}
