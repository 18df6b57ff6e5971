// The finger on the screen: whether it is down, and when it is lifted. Automatic redraws wait for that.

// Some browsers make the click a moment after the finger is lifted.
const TAP_MS = 100;
// For how long another tap on the same spot is meant for the key that stood there before.
export const TURN_MS = 700;

/** Follows the finger, and tells when it is lifted: at once if none is down. @returns {Notebook["lifted"]} */
export function followFinger() {
  /** @type {{down: boolean, timer: ReturnType<typeof setTimeout> | undefined, waiting: (() => void)[]}} */
  const finger = { down: false, timer: undefined, waiting: [] };
  function lift() {
    finger.down = false;
    finger.waiting.splice(0).forEach((resolve) => resolve());
  }
  const liftSoon = () => {
    finger.timer = setTimeout(lift, TAP_MS);
  };
  window.addEventListener("pointerdown", (event) => {
    clearTimeout(finger.timer);
    // The end of another touch may go to the browser's own menu.
    finger.down = event.button === 0;
  });
  for (const end of ["pointerup", "pointercancel"]) window.addEventListener(end, liftSoon);
  return () => finger.down && new Promise((resolve) => finger.waiting.push(resolve));
}
