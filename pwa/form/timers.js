// Running times at the fields they fill: a key that starts one, how long it has run; the key for a cycling compressor.
// DOM only: instants are kept by open_timers.js; a field's own text always goes before its clock.

import { cyclesOf, minutesOf } from "../visit/timers.js";
import { button, el, setText } from "./elements.js";
import { clockHelp } from "./help.js";
import { clock as clockWords } from "../language/formats.js";
import { say } from "../language/words.js";

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
  if (minutes === "ahead") return say("phone.clock.ahead");
  const limits = limitsOf(rulebook);
  const left = limits.rinsed - minutes;
  const drying = left > 0 ? "drying" : "dry";
  const values = { minutes, left, limit: limits.dwell, clock: clockWords(new Date(at)) };
  return say(`phone.clock.${kind === "rinsed" ? drying : kind}`, values);
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
    const left = limitsOf(rulebook).rinsed - minutes;
    const drying = left > 0 ? "drying" : "dry";
    return say(`phone.runs.${kindOf(name) === "rinsed" ? drying : kindOf(name)}`, { minutes, left });
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
    setText(line, clockLine(kindOf(name), minutesOf(state, name, clocks.now()), at, rulebook));
    const words = at === undefined ? clock.start : say("phone.clock.start_again");
    setText(key, words);
    key.setAttribute("aria-label", say("phone.clock.key", { label, key: words }));
    if (end !== null) end.hidden = at === undefined;
  }
  tools.ticks.push(tick);
  tick();
  return el("div", { class: "clock" }, line, el("div", { class: "ways" }, key, end, clockHelp(kindOf(name))));
}

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
  const anew = button(say("phone.taps.again"), () => {
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
    setText(key, say(taps.at(-1)?.on ? "phone.taps.off" : "phone.taps.on"));
    anew.hidden = taps.length === 0;
    if (taps.length === 0) setText(line, say("phone.taps.first"));
    else if (times === null) setText(line, say("phone.taps.none"));
    else setText(line, say("phone.taps.cycles", { count: times.cycles, on: times.on_s, off: times.off_s }));
  }
  show();
  return { root: el("div", { class: "taps" }, key, line, anew), refresh: () => undefined };
}
