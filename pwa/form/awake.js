// Keeps the screen from going dark while something counts down, where the browser can.
// It lasts while the page is visible; locking the phone still locks it.

/** @returns {(wanted: boolean) => void} to be told again and again, since a page that was away has lost it */
export function createAwake() {
  /** @type {WakeLockSentinel | null} */
  let held = null;
  let asking = false;
  async function ask() {
    asking = true;
    try {
      held = await navigator.wakeLock.request("screen");
    } catch (error) {
      // Refused while the battery is low: the page has said that a locked phone may be silent.
      console.info("awake:", error);
    }
    asking = false;
  }
  return (wanted) => {
    if (navigator.wakeLock === undefined || asking) return;
    if (held?.released) held = null;
    if (wanted && held === null && document.visibilityState === "visible") void ask();
    else if (!wanted && held !== null) {
      void held.release();
      held = null;
    }
  };
}
