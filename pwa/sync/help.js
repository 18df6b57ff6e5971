// Brings the help texts to the phone and keeps them in their own cache, for work without a network.
// It draws nothing, and none of its faults reach a person: a phone without help just shows none.

const CACHE = "help";
// The one region whose English differs.
const AMERICAN = "en-US";

/** @param {string} tag */
const addressOf = (tag) => `/help/${tag === AMERICAN ? tag : tag.split("-")[0]}.json`;

/**
 * The help in one language; `version` is the page's, with which the desk's help changes. If a browser keeps nothing
 * for this address, there is none.
 *
 * @param {{version: string, language: () => string}} page
 */
export function createHelp({ version, language }) {
  const opened = async () => globalThis.caches?.open(CACHE);

  /** What is kept of this language, whatever version it is of; undefined without it. @returns {Promise<any>} */
  const read = async () => (await (await opened())?.match(addressOf(language()), { ignoreSearch: true }))?.json();

  // What is kept goes only once the new one is complete and valid.
  async function renew() {
    const address = `${addressOf(language())}?${version}`;
    const cache = await opened();
    if (cache === undefined || (await cache.match(address)) !== undefined) return;
    const response = await fetch(address, { cache: "no-cache" });
    const { text } = await response.clone().json();
    if (text === undefined) return;
    await cache.put(address, response);
    // Two of these may run at once; what the other has just stored is for this address too, and stays.
    const older = (await cache.keys()).filter(({ url }) => !url.endsWith(address));
    for (const request of older) await cache.delete(request);
  }

  /** Fetches what is not kept of this version; without a network, or with another's answer, nothing changes. */
  const keep = () => navigator.onLine && renew().catch((error) => console.warn("help:", error));

  return { read, keep };
}
