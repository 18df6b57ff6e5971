// The page's dealings with its worker: is everything this page needs kept, and is a newer one waiting?
// No caching happens here, and no record is touched.

/** @param {ServiceWorker} worker @returns {Promise<{version: string, complete: boolean}>} */
function filesOf(worker) {
  return new Promise((resolve) => {
    const channel = new MessageChannel();
    channel.port1.onmessage = (event) => resolve(event.data);
    worker.postMessage("which files", [channel.port2]);
  });
}

/**
 * "ready" only when the active worker's list is this page's version and every file of it is kept;
 * "getting_ready" while one installs; "cannot" with a browser or address without workers.
 *
 * @param {ServiceWorkerRegistration | null} registration
 * @param {string} pageVersion
 * @returns {Promise<Readiness>}
 */
async function readiness(registration, pageVersion) {
  if (registration === null) return "cannot";
  if (registration.active === null) return "getting_ready";
  const { version, complete } = await filesOf(registration.active);
  return version === pageVersion && complete ? "ready" : "getting_ready";
}

/** @param {(error: unknown) => void} onFault @returns {Promise<ServiceWorkerRegistration | null>} */
async function registered(onFault) {
  if (navigator.serviceWorker === undefined) return null;
  try {
    return await navigator.serviceWorker.register("/sw.js", { updateViaCache: "none" });
  } catch (error) {
    onFault(error);
    return navigator.serviceWorker.getRegistration().then((registration) => registration ?? null);
  }
}

/**
 * Starts the worker and tells `onChange({ready, update})` whenever either may have changed.
 * `takeOver()` is for a person's tap: the waiting worker takes over and the page reloads under it. It is there
 * before anything is told, since a key for it may be drawn, and tapped, while a first telling is still under way.
 *
 * @param {object} page
 * @param {string} page.version
 * @param {(change: {ready: Readiness, update: boolean}) => unknown} page.onChange
 * @param {(error: unknown) => void} page.onFault
 */
export async function startOffline({ version, onChange, onFault }) {
  const registration = await registered(onFault);
  const change = async () => ({
    ready: await readiness(registration, version),
    update: Boolean(registration?.waiting),
  });
  const tell = () => change().then(onChange).catch(onFault);
  if (registration === null) {
    void tell();
    return { takeOver: () => undefined };
  }
  /** @param {ServiceWorker | null} worker */
  const follow = (worker) => worker?.addEventListener("statechange", tell);
  follow(registration.installing);
  registration.addEventListener("updatefound", () => follow(registration.installing));
  let byTap = false;
  navigator.serviceWorker.addEventListener("controllerchange", () => (byTap ? location.reload() : tell()));
  void tell();
  return {
    takeOver: () => {
      byTap = true;
      registration.waiting?.postMessage("take over");
    },
  };
}
