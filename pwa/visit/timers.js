// What runs for a visit, kept as instants: minutes running, the cleaner's dwell, the drying face, a vacuum, cycles.
// Pure: the clock's reading is handed in and nothing is kept here, so a locked screen or a killed page loses no time.

export const MINUTE_MS = 60_000;
// Anything running for longer was forgotten.
export const STALE_MIN = 240;

// A jump of the phone's clock worth mentioning.
export const JUMP_MS = 2000;

/**
 * {visit, at: {name: instant}, taps: {role: [{at, on}]}, filled: {field: text}, rung: {name: true}}; instants in ms
 * since 1970; `rung` are the clocks whose ringing a person answered.
 *
 * @param {string} visit
 * @returns {Clocks}
 */
export const noClocks = (visit) => ({ visit, at: {}, taps: {}, filled: {} });

/**
 * All but one of them.
 *
 * @template T
 * @param {Record<string, T>} things
 * @param {string} name
 * @returns {Record<string, T>}
 */
const without = (things, name) => Object.fromEntries(Object.entries(things).filter(([other]) => other !== name));

/** @param {Clocks} state @param {string} name @param {number} now @returns {Clocks} */
export const started = (state, name, now) =>
  ({ ...state, at: { ...state.at, [name]: now }, rung: without(state.rung ?? {}, name) });

/** @param {Clocks} state @param {string} name @returns {Clocks} */
export const stopped = (state, name) => ({ ...state, at: without(state.at, name) });

/** Its ringing was answered; it goes on counting. @param {Clocks} state @param {string} name @returns {Clocks} */
export const answered = (state, name) => ({ ...state, rung: { ...state.rung, [name]: true } });

/** The clocks that were started since. @param {Clocks} state @param {Clocks | undefined} before */
export const newIn = (state, before) => Object.keys(state.at).filter((name) => before?.at[name] !== state.at[name]);

/**
 * With the answers to what rang before: one may be on its way to the store while the visit is opened from there.
 *
 * @param {Clocks} state
 * @param {Clocks | undefined} before
 * @returns {Clocks}
 */
export function stillAnswered(state, before) {
  const fresh = newIn(state, before);
  const rung = Object.entries(before?.rung ?? {}).filter(([name]) => !fresh.includes(name));
  return { ...state, rung: { ...Object.fromEntries(rung), ...state.rung } };
}

/**
 * What is left of a clock [ms], below zero once it is over; null where it only counts up, was never started, or its
 * start has yet to come.
 *
 * @param {Clocks} state
 * @param {string} name
 * @param {number} now
 * @param {number | null} limit the minutes that it counts down
 * @returns {number | null}
 */
export function leftOf(state, name, now, limit) {
  if (limit === null || typeof minutesOf(state, name, now) !== "number") return null;
  return state.at[name] + limit * MINUTE_MS - Math.max(now, state.at[name]);
}

/**
 * A clock that runs, what is left of it [ms] and for how long it has run [ms].
 *
 * @typedef {{name: string, left: number | null, ran: number}} Running
 */

/**
 * What runs, the most pressing first: what is over or will be soonest, then what only counts up. Clocks answered
 * after their end, and forgotten ones, are left out.
 *
 * @param {Clocks} state
 * @param {number} now
 * @param {(name: string) => number | null} limitOf
 * @returns {Running[]}
 */
export function runningOf(state, now, limitOf) {
  const running = Object.keys(state.at).flatMap((name) => {
    const minutes = minutesOf(state, name, now);
    const left = leftOf(state, name, now, limitOf(name));
    const isOver = left !== null && left <= 0 && state.rung?.[name] === true;
    if (typeof minutes !== "number" || minutes >= STALE_MIN || isOver) return [];
    return [{ name, left, ran: Math.max(0, now - state.at[name]) }];
  });
  return running.sort((one, other) => (one.left ?? Infinity) - (other.left ?? Infinity) || one.ran - other.ran);
}

/**
 * Whole minutes since `name` was started; null where it was not; "ahead" where that instant has yet to come.
 *
 * @param {Clocks} state
 * @param {string} name
 * @param {number} now
 * @returns {number | "ahead" | null}
 */
export function minutesOf(state, name, now) {
  const at = state.at[name];
  if (at === undefined) return null;
  return at > now + JUMP_MS ? "ahead" : Math.floor(Math.max(0, now - at) / MINUTE_MS);
}

/** @param {Clocks} state @param {string} role @param {number} now @returns {Clocks} */
export function tapped(state, role, now) {
  const taps = state.taps[role] ?? [];
  const on = taps.length === 0 ? true : !taps[taps.length - 1].on;
  return { ...state, taps: { ...state.taps, [role]: [...taps, { at: now, on }] } };
}

/** @param {Clocks} state @param {string} role @returns {Clocks} */
export const untapped = (state, role) => ({ ...state, taps: { ...state.taps, [role]: [] } });

/**
 * {cycles, on_s, off_s} over whole cycles, each from one coming on to the next; null before the first is whole.
 *
 * @param {Tap[]} taps
 */
export function cyclesOf(taps) {
  let onMs = 0;
  let offMs = 0;
  let cycles = 0;
  for (let i = 0; i + 2 < taps.length; i += 2) {
    onMs += taps[i + 1].at - taps[i].at;
    offMs += taps[i + 2].at - taps[i + 1].at;
    cycles += 1;
  }
  /** @param {number} ms */
  const mean = (ms) => Math.round(ms / cycles / 1000);
  return cycles === 0 ? null : { cycles, on_s: mean(onMs), off_s: mean(offMs) };
}

/**
 * Everything moved by `ms`: what was started goes on as if the phone's clock had not been set.
 *
 * @param {Clocks} state
 * @param {number} ms
 * @returns {Clocks}
 */
export function carried(state, ms) {
  const at = Object.fromEntries(Object.entries(state.at).map(([name, instant]) => [name, instant + ms]));
  /** @param {Tap[]} list */
  const later = (list) => list.map((tap) => ({ ...tap, at: tap.at + ms }));
  const taps = Object.fromEntries(Object.entries(state.taps).map(([role, list]) => [role, later(list)]));
  return { ...state, at, taps };
}

/** @param {Clocks} state */
export const runsAny = (state) =>
  Object.keys(state.at).length > 0 || Object.values(state.taps).some((taps) => taps.length > 0);

// Tells a set clock from time that passed: a steady counter runs beside it while the page is seen.
// `look(wall, steady, seen)` gives the jump in ms since the last look, 0 where there was none or nobody can tell.
export function createJumpWatch() {
  /** @type {{wall: number, steady: number, seen: boolean} | null} */
  let last = null;
  /** @param {number} wall @param {number} steady @param {boolean} seen */
  return (wall, steady, seen) => {
    const jump = last === null || !seen || !last.seen ? 0 : Math.round(wall - last.wall - (steady - last.steady));
    last = { wall, steady, seen };
    return Math.abs(jump) > JUMP_MS ? jump : 0;
  };
}
