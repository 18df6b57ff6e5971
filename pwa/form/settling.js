// Waiting for a test to settle: a tap logs the readings as they stand, a plot shows the vent, a line says how long.
// DOM only: whether it has settled is the judgement's; instants are kept, so a frozen page loses no time.

import { clockExact } from "../language/formats.js";
import { say } from "../language/words.js";
import { button, drawn, el, folded, replace, setText } from "./elements.js";
import { TURN_MS } from "./finger.js";
import { withHelp } from "./help.js";
import { sentences } from "./words.js";

const [RIGHT, TOP, BOTTOM] = [222, 24, 84];
const MINUTE_S = 60;
// More of them, from a logger's file, would only thicken the line.
const DOTS_MOST = 60;
// How long the last entry can be taken back by the key that made it; the list below has them all.
const UNDO_MS = 20_000;

/** @typedef {{test: string, point: TracePoint}} Entered what a tap wrote */

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
  const minutes = Math.floor((to - from) / MINUTE_S);
  const label = say(minutes < 1 ? "phone.settling.plot_short" : "phone.settling.plot", { count: minutes, first, last });
  const marks = Array.from({ length: minutes + 1 }, (_, minute) => x({ s: from + minute * MINUTE_S }));
  return drawn(
    "svg", { class: "plot", viewBox: "0 0 284 112", role: "img", "aria-label": label },
    path("axis", `M0 94H${RIGHT + 4}${marks.map((place) => `M${place} 90v8`).join("")}`),
    heading !== null && path("ahead", `M4 ${y(ahead)}H${RIGHT + 4}`),
    path("line", along("L", "")), points.length < DOTS_MOST && path("dots", along("M", "h0")),
    text({ x: 0, y: Number(y(start.value)) - 8 }, first), text({ x: RIGHT + 12, y: Number(y(end.value)) + 4 }, last),
    text({ x: 4, y: 109 }, "0", "time"),
    minutes > 0 && text({ x: Number(marks[minutes]), y: 109 }, say("phone.settling.minutes", { minutes }), "time"),
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
    wait > 0 && say("phone.settling.wait", { minutes: Math.ceil(wait / MINUTE_S) }),
  ]);
}

/** @type {["vent_c" | "high_kpa_g" | "low_kpa_g" | "return_air_c", "temperature" | "pressure"][]} */
const LOGGED = [
  ["vent_c", "temperature"], ["high_kpa_g", "pressure"], ["low_kpa_g", "pressure"], ["return_air_c", "temperature"],
];

// The number of the file that an entry came from, in the thousandths of its second; 0 where it was typed.
/** @param {number} s */
const fileAt = (s) => Math.round((s - Math.floor(s)) * 1000);

/** What was logged at one time, in words. @param {TracePoint} point @param {Speaker} speak */
const pointWords = (point, speak) => LOGGED.flatMap(([name, quantity]) => {
  const value = point[name];
  return value === undefined ? [] : [say(`phone.settling.values.${name}`, { value: speak[quantity](value) })];
}).join(", ");

/**
 * Every entry with the key that deletes it.
 *
 * @param {Test} test
 * @param {Speaker} speak
 * @param {(test: string, points: TracePoint[]) => unknown} unlog
 */
function rowsOf({ id, at = "", trace = [] }, speak, unlog) {
  /** @param {number} s */
  const clockAt = (s) => clockExact(new Date(Date.parse(at) + s * 1000));
  /** @param {TracePoint[]} points what came from one file */
  const fileRow = (points) => {
    const [clock, end] = [points[0], points[points.length - 1]].map(({ s }) => clockAt(s));
    const said = say("phone.settling.of_file", { clock, end, count: points.length });
    const key = button(say("phone.settling.delete"), () => unlog(id, points), {
      class: "quiet", "aria-label": say("phone.settling.delete_file", { clock }),
    });
    return el("li", { class: "row" }, el("span", null, said), key);
  };
  const files = [...new Set(trace.map(({ s }) => fileAt(s)))].filter((number) => number > 0);
  const rows = files.map((number) => fileRow(trace.filter(({ s }) => fileAt(s) === number)));
  return [...rows, ...trace.filter(({ s }) => fileAt(s) === 0).map((point) => {
    const time = clockAt(point.s);
    const key = button(say("phone.settling.delete"), () => unlog(id, [point]), {
      class: "quiet", "aria-label": say("phone.settling.delete_at", { clock: time }),
    });
    const line = el("span", null, say("phone.settling.entry", { clock: time, values: pointWords(point, speak) }));
    return el("li", { class: "row" }, line, key);
  })];
}

/** The key that opens a logger's file. @param {(file: File) => unknown} read */
function fileKey(read) {
  const input = el("input", { type: "file", accept: ".csv,.txt,.tsv,text/csv,text/plain", hidden: true });
  input.addEventListener("change", async () => {
    const [file] = input.files ?? [];
    if (file !== undefined) await read(file);
    input.value = "";
  });
  return el("span", null, input, button(say("phone.settling.file"), () => input.click(), { class: "quiet" }));
}

/**
 * The key that logs; where it stood, for a while and until the readings are others, the one that takes it back.
 *
 * @param {{log: () => Promise<Entered | null>, unlog: (test: string, points: TracePoint[]) => Promise<unknown>}} deeds
 */
function logKey({ log, unlog }) {
  /** @type {(Entered & {at: number}) | null} */
  let entered = null;
  /** @type {TracePoint | null} */
  let last = null;
  let turned = 0;
  const key = button(say("phone.settling.log"), press, { class: "quiet" });
  async function press() {
    if (Date.now() - turned < TURN_MS) return;
    const done = entered;
    turn(null);
    if (done !== null) await unlog(done.test, [done.point]);
    else {
      const fresh = await log();
      if (fresh !== null) turn({ ...fresh, at: Date.now() });
    }
  }
  /** @param {(Entered & {at: number}) | null} next */
  function turn(next) {
    turned = Date.now();
    entered = next;
    last = next?.point ?? last;
    setText(key, say(next === null ? "phone.settling.log" : "phone.settling.undo"));
  }
  /** Whether the readings are still those that were logged. @param {Test | undefined} test @param {TracePoint} point */
  const same = (test, point) => LOGGED.every(([name]) => test?.readings?.[name] === point[name]);
  /** @param {Test | undefined} [test] */
  const renew = (test) => {
    const isTyped = test !== undefined && last !== null && !same(test, last);
    if (entered !== null && (isTyped || Date.now() - entered.at > UNDO_MS)) turn(null);
    // A finger that has typed a reading since isn't on the key.
    if (isTyped) turned = 0;
  };
  return { key, renew };
}

/**
 * `log()` writes one point of the test's trace; the block is renewed with every look at the readings.
 *
 * @param {Parameters<typeof logKey>[0] & {readFile: (file: File) => unknown}} deeds
 * @param {(() => void)[]} ticks
 * @returns {Part}
 */
export function settling(deeds, ticks) {
  const line = el("p", { class: "meaning", role: "status" });
  const plot = el("div");
  const list = el("ul");
  const entries = folded(say("phone.settling.entries"), [list]);
  const { key, renew } = logKey(deeds);
  ticks.push(() => renew());
  const title = el("h2", null, say("phone.settling.title"));
  const root = el("section", { class: "settling" }, title, line, plot, withHelp(key, "log_readings"),
    withHelp(fileKey(deeds.readFile), "logger_file"), entries);
  let shown = "";
  /** @param {Sight} sight */
  const refresh = ({ test, judged, speak }) => {
    const trace = test?.trace ?? [];
    const levelled = judged?.levelled;
    const count = trace.length;
    const state = words(levelled, count, speak);
    setText(line, sentences([count > 0 && say("phone.settling.logged", { count }), state]));
    const drawing = plotOf(trace, levelled?.heading_for ?? null, speak);
    plot.replaceChildren(...(drawing === null ? [] : [drawing]));
    renew(test);
    // Redrawn only if they changed, or a key would vanish from under the finger with every keystroke.
    const now = JSON.stringify(trace.map((point) => [point.s, fileAt(point.s) === 0 && pointWords(point, speak)]));
    if (now !== shown) replace(list, ...(test === undefined ? [] : rowsOf(test, speak, deeds.unlog)));
    shown = now;
    entries.hidden = count === 0;
  };
  return { root, refresh };
}
