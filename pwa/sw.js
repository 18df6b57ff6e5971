// Keeps the page's own files on the phone and answers for them: refusals first, then one rule.
// It caches nothing that the desk answers, holds no record and takes over only when told.

const shell = "LAYBY_FILES";
const CACHE = `layby-${shell.version}`;
const PAGES = /^\/(index\.html|pair|visit\/[0-9a-f-]+(\/[a-z]+)?)?$/;
const known = new Set(shell.files);
const INDEX = known.has("/index.html") ? "/index.html" : "/";

const hexOf = (sum) => Array.from(new Uint8Array(sum), (byte) => byte.toString(16).padStart(2, "0")).join("");

async function fetched(path) {
  const response = await fetch(path, { cache: "reload" });
  if (!response.ok) throw new Error(`${path}: ${response.status}`);
  const sum = await crypto.subtle.digest("SHA-256", await response.clone().arrayBuffer());
  return { path, response, line: `${path} ${hexOf(sum)}\n` };
}

// All or nothing: a file that is missing or not as listed leaves the earlier worker in its place.
async function install() {
  const files = await Promise.all(shell.files.map(fetched));
  const lines = new TextEncoder().encode(files.map((file) => file.line).join(""));
  if (hexOf(await crypto.subtle.digest("SHA-256", lines)) !== shell.sha256) throw new Error("the files: other content than listed");
  const cache = await caches.open(CACHE);
  for (const { path, response } of files) await cache.put(path, response);
}

async function activate() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith("layby-") && name !== CACHE).map((name) => caches.delete(name)));
  await self.clients.claim();
}

async function kept(path) {
  const cache = await caches.open(CACHE);
  return (await cache.match(path)) ?? fetch(path, { cache: "reload" });
}

async function holdsAll() {
  const cache = await caches.open(CACHE);
  const found = new Set((await cache.keys()).map((request) => new URL(request.url).pathname));
  return shell.files.every((path) => found.has(path));
}

// Where the browser can be told ahead, it takes what a page loads from the cache by itself: a start then waits for one
// answer of this worker, not for sixty.
const ROUTES = ["/:file.js", "/:room/:file.js", "/style.css", "/rulebook.json"];

async function route(event) {
  const rules = ROUTES.map((pathname) => ({ condition: { urlPattern: { pathname }, requestMethod: "GET" }, source: { cacheName: CACHE } }));
  // A browser that takes no such rules asks the worker for each file, as all do without them.
  await event.addRoutes?.(rules).catch((error) => console.warn("routes:", error));
}

self.addEventListener("install", (event) => event.waitUntil(Promise.all([install(), route(event)])));
self.addEventListener("activate", (event) => event.waitUntil(activate()));

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET") return;
  if (url.origin !== self.location.origin) return;
  const page = event.request.mode === "navigate" && PAGES.test(url.pathname);
  if (!page && !known.has(url.pathname)) return;
  event.respondWith(kept(page ? INDEX : url.pathname));
});

self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
  if (event.data !== "which files") return;
  event.waitUntil(holdsAll().then((complete) => event.ports[0].postMessage({ version: shell.version, complete })));
});
