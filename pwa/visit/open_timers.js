// The clocks of an open visit in work: started, read, carried over a set clock, and kept after each change.
// It draws nothing; form/timers.js says what a running time means, timers.js calculates with instants.

import { answered, carried, createJumpWatch, noClocks, runsAny } from "./timers.js";
import { MINUTE_MS, started, stopped, tapped, untapped } from "./timers.js";
import { jumpWords } from "../form/words.js";

/**
 * @param {string} visit
 * @param {object} parts
 * @param {Outbox} parts.outbox
 * @param {(error: CodedError) => void} parts.failed
 * @param {Tell} parts.tell
 * @param {(state: Clocks) => void} parts.changed told of every change
 * @param {() => number} [parts.clock]
 */
export async function openClocks(visit, { outbox, failed, tell, changed, clock = () => Date.now() }) {
  let state = (await outbox.clocksOf(visit)) ?? noClocks(visit);
  const jumped = createJumpWatch();
  /** @param {Clocks} next */
  const change = (next) => {
    state = next;
    changed(state);
    outbox.keepClocks(state).catch(failed);
  };
  return {
    state: () => state,
    now: clock,
    /** @param {string} name */
    start: (name) => change(started(state, name, clock())),
    /** Began so many minutes ago. @param {string} name @param {number} minutes */
    startAgo: (name, minutes) => change(started(state, name, clock() - minutes * MINUTE_MS)),
    /** Its ringing was answered. @param {string} name */
    answer: (name) => change(answered(state, name)),
    /** Nothing runs any longer: the visit is over. */
    clear: () => runsAny(state) && change({ ...noClocks(visit), filled: state.filled }),
    /** @param {string} name */
    stop: (name) => change(stopped(state, name)),
    /** @param {string} role */
    tap: (role) => change(tapped(state, role, clock())),
    /** @param {string} role */
    untap: (role) => change(untapped(state, role)),
    /** @param {string} field */
    filled: (field) => state.filled[field],
    /** @param {string} field @param {string} text */
    noteFilled: (field, text) => {
      if (state.filled[field] !== text) change({ ...state, filled: { ...state.filled, [field]: text } });
    },

    /**
     * Once a second while the page is visible: if the clock was set, running times move with it, and that is said.
     *
     * @param {number} steady
     * @param {boolean} seen
     */
    watch: (steady, seen) => {
      const ms = jumped(clock(), steady, seen);
      if (ms === 0 || !runsAny(state)) return;
      change(carried(state, ms));
      tell(jumpWords(ms));
    },
  };
}
