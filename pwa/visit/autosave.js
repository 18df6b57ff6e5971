// Keeps the draft of the open visit soon after each keystroke, and at once when the page may be about to go.
// It decides only when; what is kept is capture.js, and the words about it are the form's.

const SOON_MS = 300;
// A phone that was full may have room again without another key being pressed.
const AGAIN_MS = 2000;

/**
 * `typed()` after each keystroke; `flush()` when there may be no later, which resolves with whether all is kept then.
 * `onKept(instant)` and `onFault(error)` tell how it went; onKept is called only after the outbox's transaction is
 * complete, and not while something newer is typed.
 * The wait begins at the first letter that is not kept, so that somebody who types without a pause is kept as well.
 * What could not be kept is tried again until it is.
 *
 * @param {object} parts
 * @param {() => Promise<number>} parts.keepDraft
 * @param {(instant: number) => void} parts.onKept
 * @param {(error: unknown) => void} parts.onFault
 */
export function createAutosave({ keepDraft, onKept, onFault }) {
  /** @type {ReturnType<typeof setTimeout> | null} */
  let timer = null;
  /** @param {unknown} error */
  const again = (error) => {
    timer ??= setTimeout(keepNow, AGAIN_MS);
    onFault(error);
    return false;
  };
  /** @param {number} instant */
  const kept = (instant) => {
    if (timer === null) onKept(instant);
    return true;
  };
  const keepNow = () => {
    timer = null;
    return keepDraft().then(kept, again);
  };
  return {
    typed: () => {
      timer ??= setTimeout(keepNow, SOON_MS);
    },
    flush: () => {
      if (timer === null) return Promise.resolve(true);
      clearTimeout(timer);
      return keepNow();
    },
    // What was typed has just been written as operations: there is no draft left to keep.
    settled: () => {
      if (timer !== null) clearTimeout(timer);
      timer = null;
    },
  };
}
