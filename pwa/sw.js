// Keeps the page's own files on the phone and answers for them: refusals first, then one rule.
// It caches nothing that the desk answers, holds no record and takes over only when told.

const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));

// The desk replaces this word with its list: {version, sha256, files, words: {language: sha256}}.
/** @type {any} */
const shell = "LAYBY_FILES";
/** @type {string[]} */
const paths = shell.files;
const CACHE = `layby-${shell.version}`;
const PAGES = /^\/(index\.html|pair|visit\/[0-9a-f-]+(\/[a-z]+)?)?$/;
const addresses = new Set(paths);
const INDEX = addresses.has("/index.html") ? "/index.html" : "/";
const WORDS = /^\/words\/([\w-]+)\.json$/;
// What the page itself keeps after its first start.
const LATER = /^\/later\/[\w-]+\.js$/;
const FIRST = "en";

/** @param {string} tag */
const languageOf = (tag) => tag.split("-")[0];

/** Where the words of this phone's language are, by the rule of language/chosen.js. */
function wordsOfPhone() {
  const tag = worker.navigator.languages.find((one) => languageOf(one) in shell.words) ?? FIRST;
  return `/words/${tag in shell.words ? tag : languageOf(tag)}.json`;
}

/** @param {ArrayBuffer} sum */
const hexOf = (sum) => Array.from(new Uint8Array(sum), (byte) => byte.toString(16).padStart(2, "0")).join("");

/** @param {string} path */
async function fetched(path) {
  const response = await fetch(path, { cache: "reload" });
  if (!response.ok) throw new Error(`${path}: ${response.status}`);
  const sum = await crypto.subtle.digest("SHA-256", await response.clone().arrayBuffer());
  return { path, response, sum: hexOf(sum) };
}

/** Words as they are listed, which belong to the page's edition. @param {string} path */
async function wordsFrom(path) {
  const file = await fetched(path);
  if (file.sum !== shell.words[WORDS.exec(path)?.[1] ?? ""]) throw new Error(`${path}: other content than listed`);
  return file;
}

// All or nothing: a file that is missing or not as listed leaves the earlier worker in its place.
async function install() {
  const [words, ...files] = await Promise.all([wordsFrom(wordsOfPhone()), ...paths.map(fetched)]);
  const lines = new TextEncoder().encode(files.map(({ path, sum }) => `${path} ${sum}\n`).join(""));
  const sum = hexOf(await crypto.subtle.digest("SHA-256", lines));
  if (sum !== shell.sha256) throw new Error("the files: other content than listed");
  const cache = await caches.open(CACHE);
  for (const { path, response } of [words, ...files]) await cache.put(path, response);
}

async function activate() {
  const names = await caches.keys();
  const older = names.filter((name) => name.startsWith("layby-") && name !== CACHE);
  await Promise.all(older.map((name) => caches.delete(name)));
  await worker.clients.claim();
}

/** @param {string} path */
async function answer(path) {
  const cache = await caches.open(CACHE);
  return (await cache.match(path)) ?? fetch(path, { cache: "reload" });
}

/** @param {Cache} cache */
const pathsIn = async (cache) => (await cache.keys()).map((request) => new URL(request.url).pathname);

/**
 * The words of a language: those kept; else the desk's, if they belong to this edition; else, with the desk out of
 * reach, those of the language that is kept.
 *
 * @param {string} path
 */
async function answerWords(path) {
  const cache = await caches.open(CACHE);
  const match = await cache.match(path);
  if (match !== undefined) return match;
  try {
    const { response } = await wordsFrom(path);
    await cache.put(path, response.clone());
    return response;
  } catch (error) {
    console.warn("words:", error);
    const other = (await pathsIn(cache)).find((one) => WORDS.test(one));
    return (other === undefined ? undefined : await cache.match(other)) ?? Response.error();
  }
}

/** What comes after the first start, of the version that is asked for. @param {Request} request */
const answerLater = async ({ url }) => (await (await caches.open("help")).match(url)) ?? fetch(url);

async function holdsAll() {
  const cached = await pathsIn(await caches.open(CACHE));
  return paths.every((path) => cached.includes(path)) && cached.some((path) => WORDS.test(path));
}

// A browser that can be told in advance takes what a page loads from the cache by itself: a start then waits for one
// answer from this worker, not one per file. What only the desk can answer passes this worker by: woken for that, a
// worker whose successor waits to take over would hold it back for minutes.
const KEPT = ["/page.js", "/style.css", "/rulebook.json", wordsOfPhone()];
const DESKS = ["/sync", "/receipts", "/changes", "/blobs/*", "/help/*"];

/** @param {string} pathname @param {object | string} source */
const rule = (pathname, source) => ({ condition: { urlPattern: { pathname } }, source });

/** @param {ExtendableEvent & {addRoutes?: (rules: object[]) => Promise<void>}} event */
async function route(event) {
  const rules = [
    ...KEPT.map((path) => rule(path, { cacheName: CACHE })),
    ...DESKS.map((path) => rule(path, "network")),
    rule("/later/*", { cacheName: "help" }),
  ];
  // A browser without such rules asks the worker for each file.
  await event.addRoutes?.(rules).catch((error) => console.warn("routes:", error));
}

worker.addEventListener("install", (event) => event.waitUntil(Promise.all([install(), route(event)])));
worker.addEventListener("activate", (event) => event.waitUntil(activate()));

worker.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET") return;
  if (url.origin !== worker.location.origin) return;
  if (WORDS.test(url.pathname)) event.respondWith(answerWords(url.pathname));
  if (LATER.test(url.pathname)) event.respondWith(answerLater(event.request));
  const page = event.request.mode === "navigate" && PAGES.test(url.pathname);
  if (!page && !addresses.has(url.pathname)) return;
  event.respondWith(answer(page ? INDEX : url.pathname));
});

/** Says which edition this worker holds, and whether all of it. @param {MessagePort} port */
async function tellFiles(port) {
  port.postMessage({ version: shell.version, complete: await holdsAll() });
}

worker.addEventListener("message", (event) => {
  if (event.data === "take over") void worker.skipWaiting();
  if (event.data === "which files") event.waitUntil(tellFiles(event.ports[0]));
});
