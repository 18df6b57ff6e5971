// Running times at the fields they fill: a key that starts one, how long it has run; the key for a cycling compressor.
// DOM only: instants are kept by open_timers.js; a field's own text always goes before its clock.

import { cyclesOf, minutesOf } from "../visit/timers.js";
import { clockHelp } from "./help.js";
import { button, el, say } from "./elements.js";
import { clock as clockWords, counted } from "./words.js";

/**
 * The minutes that a face has to dry after the rinse, and the longest that a cleaner is usually left on.
 *
 * @param {Rulebook} rulebook
 * @returns {{rinsed: number, dwell: number}}
 */
const limitsOf = (rulebook) => ({
  rinsed: rulebook.comparison.limits.rinsed_min,
  dwell: rulebook.checks_at_rest.cleaner.dwell_min,
});

const AHEAD = "The phone's clock was set back while this ran, so the minutes are not known. Start again or write them.";

/**
 * A clock's line, "" where it was never started. `kind` is the clock's name without what it belongs to.
 *
 * @param {string} kind
 * @param {ReturnType<typeof minutesOf>} minutes
 * @param {number} at
 * @param {Rulebook} rulebook
 */
export function clockLine(kind, minutes, at, rulebook) {
  if (minutes === null) return "";
  if (minutes === "ahead") return AHEAD;
  const limits = limitsOf(rulebook);
  const since = `since ${clockWords(new Date(at))}`;
  const left = limits.rinsed - minutes;
  if (kind === "rinsed" && left > 0) return `face drying, ${left} min left \u00b7 rinsed ${minutes} min ago`;
  if (kind === "rinsed") return `rinsed ${minutes} min ago, long enough`;
  const limit = `${limits.dwell} min is a limit, the label governs`;
  if (kind === "dwell") return `on for ${minutes} min ${since} \u00b7 ${limit}`;
  if (kind === "hold") return `held ${minutes} min ${since}`;
  return `running ${minutes} min ${since}`;
}

/** @param {string} name */
const kindOf = (name) => name.split(".")[0];

/**
 * What runs for a visit, in a few words for the day: the most pressing first; null where nothing does.
 *
 * @param {Clocks} state
 * @param {number} now
 * @param {Rulebook} rulebook
 */
export function runningWords(state, now, rulebook) {
  const names = Object.keys(state.at).sort((one, other) => ORDER.indexOf(kindOf(one)) - ORDER.indexOf(kindOf(other)));
  for (const name of names) {
    const minutes = minutesOf(state, name, now);
    if (typeof minutes !== "number" || minutes >= STALE_MIN) continue;
    const limits = limitsOf(rulebook);
    if (kindOf(name) === "rinsed" && minutes < limits.rinsed) return `face drying, ${limits.rinsed - minutes} min left`;
    if (kindOf(name) === "rinsed") return "face dry by the clock";
    if (kindOf(name) === "dwell") return `cleaner on for ${minutes} min`;
    if (kindOf(name) === "hold") return `vacuum held ${minutes} min`;
    return `running ${minutes} min`;
  }
  return null;
}

const ORDER = ["dwell", "rinsed", "hold", "running"];
const STALE_MIN = 240;

/**
 * Writes a text where the field is empty, or holds what a clock or a sum wrote there and nobody changed.
 *
 * @param {StepSource} source
 * @param {string} field
 * @param {string} text
 * @param {Tools} tools
 * @param {boolean} [again]
 */
export function fill(source, field, text, tools, again = false) {
  const { text: stands, drafted } = source.get();
  const own = stands === tools.clocks.filled(field) && (drafted === true || again);
  if (stands !== "" && !own) return;
  tools.clocks.noteFilled(field, text);
  if (stands !== text) source.put({ text });
}

/**
 * The line and the key under a field that a clock fills; `ended` is for a clock that has a key to end it.
 *
 * @param {{label: string, clock: FieldClock}} field
 * @param {string} name the clock's, with what it belongs to
 * @param {Tools} tools
 * @param {(minutes: ReturnType<typeof minutesOf>) => void} [ended]
 */
export function clockRow({ label, clock }, name, tools, ended = () => undefined) {
  const { clocks, rulebook } = tools;
  const line = el("p", { class: "meaning" });
  const key = button("", press, { class: "quiet" });
  const stop = () => ended(minutesOf(clocks.state(), name, clocks.now()));
  const end = clock.stop === undefined ? null : button(clock.stop, stop, { class: "quiet" });
  function press() {
    clocks.start(name);
    tick();
  }
  function tick() {
    const state = clocks.state();
    const at = state.at[name];
    say(line, clockLine(kindOf(name), minutesOf(state, name, clocks.now()), at, rulebook));
    say(key, at === undefined ? clock.start : "Start again");
    key.setAttribute("aria-label", `${label}: ${at === undefined ? clock.start : "start again"}`);
    if (end !== null) end.hidden = at === undefined;
  }
  tools.ticks.push(tick);
  tick();
  return el("div", { class: "clock" }, line, el("div", { class: "ways" }, key, end, clockHelp(kindOf(name))));
}

/** @param {{on_s: number, off_s: number}} cycles */
const timesOf = ({ on_s: on, off_s: off }) => `on ${on} s, off ${off} s`;

/**
 * One big key, tapped each time the compressor comes on or goes off; whole cycles fill the two times.
 *
 * @param {string} role
 * @param {{on: StepSource, off: StepSource}} sources
 * @param {Tools} tools
 * @returns {Part}
 */
export function tapsBlock(role, sources, tools) {
  const { clocks } = tools;
  const line = el("p", { class: "meaning", role: "status" });
  const key = button("", press, { class: "tap" });
  const anew = button("Count anew", () => {
    clocks.untap(role);
    show();
  }, { class: "quiet" });
  function press() {
    clocks.tap(role);
    const times = cyclesOf(clocks.state().taps[role]);
    if (times !== null) {
      fill(sources.on, `${role}.on_s`, String(times.on_s), tools, true);
      fill(sources.off, `${role}.off_s`, String(times.off_s), tools, true);
      tools.typed();
    }
    show();
  }
  function show() {
    const taps = clocks.state().taps[role] ?? [];
    const times = cyclesOf(taps);
    say(key, taps.at(-1)?.on ? "It goes off" : "It comes on");
    anew.hidden = taps.length === 0;
    if (taps.length === 0) say(line, "Tap the moment the compressor comes on, then each change.");
    else if (times === null) say(line, "No whole cycle yet.");
    else say(line, `${counted(times.cycles, "whole cycle", "whole cycles")}: ${timesOf(times)}.`);
  }
  show();
  return { root: el("div", { class: "taps" }, key, line, anew), refresh: () => undefined };
}
