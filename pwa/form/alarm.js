// What runs for any visit: the strip above the foot on every page but the clock's own; the ringing when one is over.
// DOM only: instants are kept by visit/open_timers.js; what a clock leads to is handed in.

import { clock_limit_min } from "../kernel.js";
import { kindOf } from "../visit/clock_places.js";
import { answered, MINUTE_MS, newIn, runningOf, stillAnswered } from "../visit/timers.js";
import { createAwake } from "./awake.js";
import { createBell } from "./bell.js";
import { button, el, setText } from "./elements.js";
import { limitsOf } from "./timers.js";
import { ringing } from "./ringing.js";
import { countdown } from "../language/formats.js";
import { say } from "../language/words.js";

/** @typedef {import("../visit/timers.js").Running & {visit: string}} RunningOf a visit's clock */

/** @param {RunningOf} one */
const timeOf = ({ left, ran }) => {
  if (left === null) return countdown(-ran);
  return left > 0 ? countdown(left) : say("phone.clock.over", { time: countdown(left) });
};

/** Whether a clock is on the page shown. @param {RunningOf} one */
const isShown = ({ visit, name }) => {
  const own = document.querySelector(`[data-clock="${CSS.escape(`${visit} ${name}`)}"]`);
  return own instanceof HTMLElement && own.offsetParent !== null;
};

/** @param {HTMLElement} place @param {(one: RunningOf) => unknown} go */
function strip(place, go) {
  /** @type {RunningOf | null} */
  let shown = null;
  const [name, time] = [el("span"), el("b", { role: "timer" })];
  place.replaceChildren(button("", () => shown && go(shown)));
  place.firstElementChild?.append(name, time);
  /** @param {RunningOf[]} some @param {(visit: string) => string} titleOf */
  return (some, titleOf) => {
    shown = some[0] ?? null;
    place.hidden = shown === null;
    if (shown === null) return;
    const what = say(`phone.strip.${kindOf(shown.name)}`);
    const more = some.length > 1 ? say("phone.strip.more", { count: some.length - 1 }) : "";
    setText(name, [titleOf(shown.visit), what, more].filter((part) => part !== "").join("\u00a0\u00b7 "));
    setText(time, timeOf(shown));
  };
}

/**
 * What runs for any visit, the most pressing first.
 *
 * @param {Map<string, {state: Clocks}>} all
 * @param {number} now
 * @param {(name: string) => number | null} limitOf
 * @returns {RunningOf[]}
 */
function runningIn(all, now, limitOf) {
  const running = [...all].flatMap(([visit, { state }]) =>
    runningOf(state, now, limitOf).map((one) => ({ ...one, visit })));
  return running.sort((one, other) => (one.left ?? Infinity) - (other.left ?? Infinity));
}

/**
 * @param {object} parts
 * @param {HTMLElement} parts.place of the strip
 * @param {Rulebook} parts.rulebook
 * @param {() => string | null} parts.openVisit the visit at hand
 * @param {(visit: string, name: string) => unknown} parts.go to the page of a clock
 * @param {(visit: string, name: string) => unknown} parts.answer does what a clock that is over asks for
 */
export function createAlarm({ place, rulebook, openVisit, go, answer }) {
  /** @type {Map<string, {state: Clocks, title: string}>} */
  const all = new Map();
  const [bell, awake, limitOf] = [createBell(), createAwake(), limitsOf(rulebook)];
  const show = strip(place, ({ visit, name }) => go(visit, name));
  /** @type {{tick: (now: number) => void} | null} */
  let rings = null;
  /** @param {string} visit */
  const titleOf = (visit) => (visit === openVisit() ? "" : all.get(visit)?.title ?? "");

  /** @param {RunningOf} one @param {number} now */
  function ring({ visit, name }, now) {
    const known = /** @type {{state: Clocks, title: string}} */ (all.get(visit));
    const limit = clock_limit_min(name, rulebook) ?? 0;
    const begun = known.state.at[name];
    bell.ring();
    const over = { name: known.title, kind: kindOf(name), begun, due: begun + limit * MINUTE_MS, limit };
    rings = ringing(over, now, () => {
      bell.hush();
      rings = null;
      known.state = answered(known.state, name);
      answer(visit, name);
    });
  }

  function tick() {
    const now = Date.now();
    const running = runningIn(all, now, limitOf);
    const counting = running.filter(({ left }) => left !== null);
    if (counting.length > 0 && (counting[0].left ?? 0) <= 0 && rings === null) ring(counting[0], now);
    rings?.tick(now);
    show(running.filter((one) => !isShown(one)), titleOf);
    awake(counting.length > 0);
  }

  /** Whether something counts down. @param {Clocks} state */
  const counts = (state) => Object.keys(state.at).some((name) => limitOf(name) !== null);
  window.addEventListener("pointerdown", () => {
    if ([...all.values()].some(({ state }) => counts(state))) bell.prime();
  });

  return {
    tick,
    /** What runs now for a visit. @param {Clocks} state @param {string} title what the visit is called */
    put: (state, title) => {
      const before = all.get(state.visit)?.state;
      if (newIn(state, before).some((name) => limitOf(name) !== null)) bell.prime();
      all.set(state.visit, { state: stillAnswered(state, before), title });
      // Once the caller that changed it has finished and the page shows it.
      queueMicrotask(tick);
    },
    /** What was kept of a visit, unless more is known of it already. @param {Clocks} state @param {string} title */
    recall: (state, title) => {
      if (!all.has(state.visit)) all.set(state.visit, { state, title });
    },
    /** @param {string} visit @returns {Clocks | undefined} */
    stateOf: (visit) => all.get(visit)?.state,
  };
}
