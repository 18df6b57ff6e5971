// One tab at a time writes in a visit: the tab that has it open holds a lock; another must be told to take it over.
// It draws nothing and keeps nothing; what a tab does before it lets go is handed in.

// A reloaded page meets its own lock for a moment.
const GRACE_MS = 500;
// How long the other tab may take to keep what is typed; a sleeping tab is not waited for.
const HAND_OVER_MS = 2000;

const channel = "BroadcastChannel" in self ? new BroadcastChannel("layby-visits") : null;

/** @param {string} id */
const nameOf = (id) => `layby-visit-${id}`;

/**
 * Asks for the lock; resolves with what lets it go, or null where another tab has it.
 *
 * @param {string} id
 * @param {LockOptions} options
 * @param {() => void} lost called where it was taken by force
 * @returns {Promise<(() => void) | null>}
 */
const hold = (id, options, lost) => new Promise((resolve) => {
  let held = false;
  const work = () => new Promise((release) => {
    held = true;
    resolve(() => release(undefined));
  });
  navigator.locks.request(nameOf(id), options, work).catch(() => (held ? lost() : resolve(null)));
});

/**
 * Holds a visit for this tab. `lost` is called once another tab is told to take it over; the visit is let go when that
 * says so, which is when all that was typed is kept.
 *
 * @param {string} id
 * @param {() => Promise<boolean>} lost
 * @param {boolean} [byForce] whether a person told this tab to take it over
 * @returns {Promise<(() => void) | null>} what lets it go; null where another tab has it
 */
export async function holdVisit(id, lost, byForce = false) {
  if (navigator.locks === undefined) return () => undefined;
  if (byForce) channel?.postMessage(id);
  const waiting = { signal: AbortSignal.timeout(byForce ? HAND_OVER_MS : GRACE_MS) };
  const release = (await hold(id, waiting, lost)) ?? (byForce ? await hold(id, { steal: true }, lost) : null);
  if (release === null) return null;
  /** @param {MessageEvent} message */
  const asked = async ({ data }) => {
    if (data !== id) return;
    if (await lost()) letGo();
  };
  const letGo = () => {
    channel?.removeEventListener("message", asked);
    release();
  };
  channel?.addEventListener("message", asked);
  return letGo;
}
