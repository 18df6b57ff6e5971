// Running times at the fields they fill: what counts down in large digits, what counts up in a line; a key for cycles.
// DOM only: instants are kept by open_timers.js; a field's own text takes precedence over its clock.

import { clock_limit_min } from "../kernel.js";
import { cyclesOf, leftOf, MINUTE_MS, minutesOf, STALE_MIN } from "../visit/timers.js";
import { kindOf } from "../visit/clock_places.js";
import { button, el, setText } from "./elements.js";
import { clockHelp } from "./help.js";
import { clock as clockWords, countdown } from "../language/formats.js";
import { say } from "../language/words.js";

/** Which minutes each clock counts down. @param {Rulebook} rulebook @returns {(name: string) => number | null} */
export const limitsOf = (rulebook) => (name) => clock_limit_min(name, rulebook);

/**
 * A clock's line, "" where it was never started. `kind` is the clock's name without what it belongs to.
 *
 * @param {string} name
 * @param {ReturnType<typeof minutesOf>} minutes
 * @param {number} at
 * @param {Rulebook} rulebook
 */
export function clockLine(name, minutes, at, rulebook) {
  if (minutes === null) return "";
  if (minutes === "ahead") return say("phone.clock.ahead");
  const limit = clock_limit_min(name, rulebook) ?? 0;
  const values = { minutes, limit, clock: clockWords(new Date(at)) };
  if (kindOf(name) === "rinsed") return say(minutes < limit ? "phone.clock.drying" : "phone.clock.dry", values);
  return say(`phone.clock.${kindOf(name)}`, values);
}

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
    const limit = clock_limit_min(name, rulebook) ?? 0;
    const drying = minutes < limit ? "drying" : "dry";
    return say(`phone.runs.${kindOf(name) === "rinsed" ? drying : kindOf(name)}`, { minutes, left: limit - minutes });
  }
  return null;
}

const ORDER = ["dwell", "rinsed", "hold", "running"];

/**
 * Writes a text where the field is empty, or holds what a clock or a sum wrote there and nobody changed.
 *
 * @param {StepSource} source
 * @param {string} field
 * @param {string} text
 * @param {Pick<Tools, "clocks">} tools
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
 * What is left in large digits, over a bar that empties; after the end it counts on.
 *
 * @param {string} name
 * @param {HTMLElement} line
 */
function clockFace(name, line) {
  const digits = el("span", { class: "digits", role: "timer" });
  const full = el("i");
  const words = el("div", null, el("b", null, name), line);
  const root = el("div", null, el("div", { class: "face" }, words, digits), el("div", { class: "remains" }, full));
  /** @param {number} left @param {number} whole */
  const show = (left, whole) => {
    setText(digits, left > 0 ? countdown(left) : say("phone.clock.over", { time: countdown(left) }));
    full.style.width = `${Math.max(0, Math.min(100, (100 * left) / whole))}%`;
  };
  return { root, show };
}

/**
 * The line and the key under a field that a clock fills; `ended` is for a clock that has a key to end it.
 *
 * @param {{label: string, clock: FieldClock}} field
 * @param {string} name the clock's, with what it belongs to
 * @param {Tools} tools
 * @param {() => void} [ended]
 */
export function clockRow({ label, clock }, name, tools, ended = () => undefined) {
  const { clocks, rulebook, page } = tools;
  const limit = clock_limit_min(name, rulebook);
  const line = el("p", { class: "meaning" });
  const key = button("", press, { class: "quiet" });
  const end = clock.stop === undefined
    ? null : button(clock.stop, ended, { class: "main" });
  const halt = limit === null ? null : button(say("phone.clock.stop"), stop, { class: "quiet" });
  const locked = limit === null ? null : el("p", { class: "meaning" }, say("phone.clock.locked"));
  const face = limit === null ? null : clockFace(say(`phone.strip.${kindOf(name)}`), line);
  function press() {
    clocks.start(name);
    tick();
  }
  function stop() {
    clocks.stop(name);
    tick();
  }
  function tick() {
    const state = clocks.state();
    const at = state.at[name];
    const left = leftOf(state, name, clocks.now(), limit);
    setText(line, clockLine(name, minutesOf(state, name, clocks.now()), at, rulebook));
    const words = at === undefined ? clock.start : say("phone.clock.start_again");
    setText(key, words);
    key.setAttribute("aria-label", say("phone.clock.key", { label, key: words }));
    if (face !== null) face.root.hidden = at === undefined;
    if (left !== null && limit !== null) face?.show(left, limit * MINUTE_MS);
    if (locked !== null) locked.hidden = at !== undefined;
    if (end !== null) end.hidden = at === undefined;
    if (halt !== null) halt.hidden = at === undefined;
    key.hidden = halt !== null && left !== null;
  }
  tools.ticks.push(tick);
  tick();
  const ways = el("div", { class: "ways" }, end, key, halt, clockHelp(kindOf(name)));
  return el("div", { class: "clock", "data-clock": `${page.id} ${name}` }, face?.root ?? line, locked, ways);
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
