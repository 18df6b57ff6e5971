// Brings to the phone what comes after its first start, and keeps it for work without a network: the help texts, and
// the module with what is seldom needed. It draws nothing, and none of its faults reach a person.

const CACHE = "help";
// The one region whose English differs.
const AMERICAN = "en-US";

/** @param {string} tag */
const nameOf = (tag) => (tag === AMERICAN ? tag : tag.split("-")[0]);

/** @param {string} tag */
const addressOf = (tag) => `/help/${nameOf(tag)}.json`;

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
    const addresses = [`${addressOf(language())}?${version}`, laterAddress()];
    const cache = await opened();
    if (cache === undefined) return;
    for (const address of addresses) {
      if ((await cache.match(address)) !== undefined) continue;
      const response = await fetch(address, { cache: "no-cache" });
      if (!response.ok || !/javascript|json/.test(response.headers.get("Content-Type") ?? "")) return;
      await cache.put(address, response);
    }
    // Two of these may run at once; what the other has just stored is for these addresses too, and stays.
    const older = (await cache.keys()).filter(({ url }) => !addresses.some((address) => url.endsWith(address)));
    for (const request of older) await cache.delete(request);
  }

  const laterAddress = () => `/later/${nameOf(language())}.js?${version}`;

  /**
   * The module with what is seldom needed, of this very page's version; rejects where it isn't here and out of reach.
   *
   * @returns {Promise<Later>}
   */
  async function later() {
    const address = laterAddress();
    const isKept = (await (await opened())?.match(address)) !== undefined;
    // A browser may remember that a module could not be loaded, and never try again.
    if (!isKept && !navigator.onLine) throw new Error(address);
    return (await import(address)).$later_later.later;
  }

  /** Fetches what is not kept of this version; without a network, or with another's answer, nothing changes. */
  const keep = () => navigator.onLine && renew().catch((error) => console.warn("help:", error));

  return { read, keep, later };
}
