// Wires the parts of the page together: rulebook, outbox, client, worker, screens.
// Wiring only: no rule of the trade, no storage and no markup of its own.

import { begun, outbox } from "./store/preload.js";
import { createAlarm } from "./form/alarm.js";
import { followFinger } from "./form/finger.js";
import { createCapture } from "./visit/capture.js";
import { createHandCarry } from "./sync/hand_carry.js";
import { createClient, pairWith } from "./sync/client.js";
import { carryScreen } from "./form/carry.js";
import { dayScreen } from "./form/day.js";
import { el, setText } from "./form/elements.js";
import { elsewhereScreen } from "./form/elsewhere.js";
import { useHelp } from "./form/help.js";
import { pairingPart, pairingScreen } from "./form/pairing.js";
import { settingsScreen } from "./form/settings.js";
import { shortTitle } from "./form/frame.js";
import { faultWords, lastSentWords, savedWords, sentWords } from "./form/words.js";
import { regionFor } from "./language/chosen.js";
import { useFormats } from "./language/formats.js";
import { say, useWords } from "./language/words.js";
import { createHelp } from "./sync/help.js";
import { createInbox } from "./sync/inbox.js";
import { isoLocal, phoneName, uuid7 } from "./sync/identity.js";
import { startOffline } from "./sync/offline.js";
import { dayEntries } from "./visit/day_entries.js";
import { openVisit } from "./visit/controller.js";
import { placeOfClock } from "./visit/clock_places.js";
import { answered, noClocks } from "./visit/timers.js";
import { holdVisit } from "./visit/one_tab.js";
import { createSignIn, firstUnits } from "./visit/settings.js";

const RETRY_MS = 60_000;
const TICK_MS = 5000;
const SECOND_MS = 1000;

const version = document.querySelector('meta[name="layby-version"]')?.getAttribute("content") ?? "";
/** @param {string} id */
const byId = (id) => /** @type {HTMLElement} */ (document.getElementById(id));
const status = el("p", { class: "status", role: "status", id: "status" });
/** @type {Places} */
const places = {
  head: byId("head"), page: byId("page"), foot: byId("foot"), status, saved: el("span", { class: "saved" }),
};
/** @type {DayState} */
const state = {
  ready: "getting_ready", update: false, persisted: null, lastSuccess: undefined, ops: 0,
  photos: { waiting: 0, refused: 0 },
};
/** @type {Settings} */
let settings;
/** @type {Awaited<ReturnType<typeof openVisit>> | null} */
let open = null;
/** @type {ReturnType<typeof dayScreen> | null} */
let day = null;
/** @type {Parts} */
let parts;
/** @type {ReturnType<typeof createAlarm>} */
let alarm;
/** @type {{takeOver: () => void}} */
let worker = { takeOver: () => undefined };
let asking = 0;
/** @type {Promise<unknown>} */
let turn = Promise.resolve();
const lifted = followFinger();

/** @type {Tell} */
const tell = (words, mood = "") => {
  setText(status, words);
  status.className = `status ${mood}`.trim();
};

/** @param {Settings} settings */
function wear({ theme = "", left_hand: left }) {
  Object.assign(document.documentElement.dataset, { theme, hand: left === "yes" ? "left" : "" });
}

/** Resolves with whether they are kept. @param {Settings} next */
function saveSettings(next) {
  settings = next;
  wear(settings);
  return outbox.remember("settings", settings).then(() => true, failed);
}

/** @param {unknown} error */
const failed = (error) => tell(faultWords(error), "wrong");

// Nothing is drawn over a screen that a person went to while the day was being read; and a day that redraws by itself
// waits until the finger is lifted, or the key under it would be gone and the tap lost.
async function showDay(byItself = false) {
  const entries = await dayEntries(outbox);
  state.lastSuccess = await outbox.recall("last_success");
  state.photos = await outbox.photoTally();
  state.desk = await outbox.recall("desk");
  state.ops = entries.reduce((total, { view }) => total + (view?.tally.waiting ?? 0), 0);
  const actions = { open: go, start, quick: startQuick, send: () => send(true), takeOut, update: takeUpdate };
  const clocks = new Map((await outbox.allClocks()).map((running) => [running.visit, running]));
  if (byItself) await lifted();
  const { rulebook } = parts;
  if (onDay()) day = dayScreen(places, { entries, clocks, state, rulebook, actions, today: new Date() });
}

/** @param {string} code @returns {Promise<Desk>} */
async function pair(code) {
  const name = phoneName(settings.technician?.name, navigator, say("phone.pairing.device"));
  /** @type {Desk | undefined} */
  const before = await outbox.recall("desk");
  const pairing = await pairWith({ code, device: parts.device, name, shown: before?.token });
  const desk = { ...pairing, origin: location.origin, shutOut: false };
  await outbox.remember("desk", desk);
  await signedAs(desk.person);
  void send(false);
  return desk;
}

const signedAs = createSignIn({ outbox, settings: () => settings, save: saveSettings });

async function pairingNow() {
  return { desk: await outbox.recall("desk"), now: () => new Date(), pair };
}

// The code leaves the address at once, so that neither history nor a reload shows it again.
async function showPairing() {
  const code = location.hash.slice(1);
  if (code !== "") history.replaceState(null, "", "/pair");
  const paired = () => location.pathname === "/pair" && go(null).then(() => tell(say("phone.pairing.done")));
  return pairingScreen(places, { code, home: () => go(null), paired, ...(await pairingNow()) });
}

async function showSettings() {
  const { device, rulebook } = parts;
  const assured = state.persisted === true;
  const editions = { page: version.slice(0, 8), rulebook: String(rulebook.hash).slice(0, 8) };
  const facts = [
    say(assured ? "phone.storage.kept" : "phone.storage.loose"),
    lastSentWords(state.lastSuccess, new Date()),
    say("phone.settings.device", { device, ...editions }),
  ];
  const pairing = pairingPart(await pairingNow()).root;
  if (location.hash !== "#settings") return;
  const ways = { home: () => go(null), carry: () => goTo("/#carry") };
  const today = isoLocal(new Date()).slice(0, 10);
  /** @param {Settings} next */
  const save = (next) => saveSettings(next).then((kept) => kept && tell(savedWords(new Date()), "saved"));
  settingsScreen(places, { settings, rulebook, save, ...ways, facts, pairing, today });
}

// Files to carry by hand and receipts to read; it works when the network, the desk and the worker do not.
function showCarry() {
  const { handCarry } = parts;
  const written = handCarry.parts();
  const files = written.map(({ file }) => file);
  const share = () => navigator.share({ files }).catch((error) => tell(error.message));
  const canShare = files.length > 0 && navigator.canShare?.({ files });
  /** @param {boolean} whole */
  const write = (whole) => handCarry.write(whole).then(showCarry, failed);
  const { readReceipts } = handCarry;
  carryScreen(places, { parts: written, share: canShare ? share : null, write, readReceipts, home: () => go(null) });
}

// One screen at a time: a double tap, or going back while a visit opens, leads once to the last place.
const show = () => inTurn(showNow);

/** @param {() => Promise<void>} work */
function inTurn(work) {
  const next = turn.then(work);
  turn = next.catch(() => undefined);
  return next;
}

async function showNow() {
  // A panel or help text belongs to the screen that it was opened on.
  document.querySelectorAll("dialog").forEach((dialog) => dialog.close());
  const [, kind, id, slug] = location.pathname.split("/");
  const wanted = kind === "visit" ? id : null;
  if (open !== null && open.id !== wanted) {
    if (!(await open.leave())) {
      // What couldn't be kept is only there.
      history.pushState(null, "", `/visit/${open.id}/${open.slug()}`);
      return;
    }
    open.close();
    open = null;
  }
  // A screen may change the foot and listen to keys; the next one starts without either.
  places.foot.className = "";
  places.page.onkeydown = null;
  document.title = say(wanted === null ? "phone.page.title" : "phone.page.visit_title");
  if (kind === "pair") await showPairing();
  else if (wanted === null) await (HASHES[location.hash] ?? showDay)();
  else if (open !== null) open.show(slug);
  else await openHere(wanted, slug);
  alarm.tick();
}

/**
 * Opens a visit, unless another tab has it: then the screen says so, and takes it over when it is told.
 *
 * @param {string} id
 * @param {string | undefined} slug
 * @param {boolean} [byForce]
 */
async function openHere(id, slug, byForce = false) {
  const elsewhere = () => elsewhereScreen(places, {
    takeOver: () => inTurn(() => openHere(id, slug, true)), home: () => go(null),
  });
  const letGo = await holdVisit(id, async () => {
    if (open !== null && !(await open.leave())) return false;
    open?.close();
    open = null;
    elsewhere();
    return true;
  }, byForce);
  if (letGo === null) {
    elsewhere();
    return;
  }
  const visit = await openVisit(id, slug, notebook());
  open = { ...visit, close: () => {
    visit.close();
    letGo();
  } };
}

/** The page that shows a clock. @param {string} visit @param {string} name */
const goToClock = (visit, name) => go(visit, placeOfClock(name, parts.rulebook)?.step.slug ?? "work");

// If the visit of a clock that has ended can't be opened, its ringing is answered all the same.
/** @param {string} visit @param {string} name */
async function answerClock(visit, name) {
  if (open?.id !== visit) await goToClock(visit, name);
  if (open?.id === visit) await open.answer(name);
  else await outbox.keepClocks(answered(alarm.stateOf(visit) ?? noClocks(visit), name)).catch(failed);
}

async function recallClocks() {
  const views = new Map((await outbox.visits()).map(({ id, visit }) => [id, visit]));
  for (const clocks of await outbox.allClocks()) {
    const visit = views.get(clocks.visit);
    if (!visit?.ended_at && !visit?.void) alarm.recall(clocks, visit === undefined ? "" : shortTitle(visit));
  }
  alarm.tick();
}

/** @returns {Notebook} */
const notebook = () => ({
  ...parts, version, places, tell, go, saveSettings, lifted, alarm,
  settings: () => settings,
  stored: askToKeep,
  sendSoon: () => send(false),
  seen: () => document.visibilityState === "visible",
});

/** @type {Record<string, () => unknown>} */
const HASHES = { "#settings": showSettings, "#carry": showCarry };
const onDay = () =>
  open === null && !/^\/(pair|visit\/)/.test(location.pathname) && HASHES[location.hash] === undefined;

/** @type {Notebook["go"]} */
const go = (id, slug) => goTo(id === null ? "/" : `/visit/${id}/${slug}`);

/** @param {string} path */
function goTo(path) {
  history.pushState(null, "", path);
  window.scrollTo(0, 0);
  return show().then(() => {
    // Someone already typing there isn't interrupted.
    if (!places.page.contains(document.activeElement)) places.page.focus({ preventScroll: true });
  });
}

const start = () => go(uuid7(Date.now()), "customer");
const startQuick = () => go(uuid7(Date.now()), "quick");

// Asked once something is worth keeping: browsers grant it sooner then, and a refusal is shown, not hidden.
async function askToKeep() {
  if (state.persisted === true || navigator.storage?.persist === undefined) return;
  state.persisted = await navigator.storage.persist();
}

// A phone with full storage must stay usable: the run ends, the page goes on.
/** @param {any} fault @returns {Progress} */
function unsent(fault) {
  console.warn("outbox:", fault);
  const said = fault.code === "disk_full" ? { ...fault, code: "answer_full" } : fault;
  return { sent: 0, returned: 0, changed: [], photos: 0, fault: said };
}

// A send by button speaks; an automatic one speaks only if it changed something, and never in place of one that was
// asked for and is still under way.
/** @param {boolean} byHand */
async function send(byHand) {
  if (byHand) {
    asking += 1;
    tell(say("phone.send.sending"));
  }
  const outcome = await parts.client.send(byHand).catch(unsent);
  if (byHand) asking -= 1;
  if (outcome === null) return;
  if (open !== null && outcome.changed.includes(open.id)) await open.renew();
  const isFree = open === null || status.textContent === say("phone.send.sending");
  if (asking === 0 && (byHand || outcome.sent > 0) && isFree) {
    if (outcome.fault === null) tell(sentWords(outcome));
    else failed(outcome.fault);
  }
  if (onDay()) await showDay(true);
}

// What waits, as text files: a single part leaves at once, several are listed.
async function takeOut() {
  const { parts: files, entries } = await parts.handCarry.write(false);
  if (files.length > 1) {
    await goTo("/#carry");
    return;
  }
  el("a", { href: files[0].url, download: files[0].name }).click();
  tell(say("phone.send.exported", { count: entries }));
}

function takeUpdate() {
  if (open !== null && open.dirty()) tell(say("phone.saved.update_waits"));
  else worker.takeOver();
}

async function followWorker() {
  /** @param {Pick<DayState, "ready" | "update">} change */
  const onChange = (change) => {
    Object.assign(state, change);
    return onDay() ? showDay(true) : undefined;
  };
  /** @param {unknown} error */
  const onFault = (error) => console.warn("worker:", error);
  worker = await startOffline({ version, onChange, onFault });
}

function listen() {
  const hide = () => open?.flush();
  window.addEventListener("popstate", show);
  window.addEventListener("pagehide", hide);
  window.addEventListener("online", () => send(false));
  document.addEventListener("visibilitychange", () => (document.visibilityState === "hidden" ? hide() : send(false)));
  document.addEventListener("click", (event) => {
    const way = event.target instanceof Element ? event.target.closest("a.way") : null;
    if (way === null || event.defaultPrevented) return;
    event.preventDefault();
    history.pushState(null, "", way.getAttribute("href"));
    void show();
  });
  document.addEventListener("visibilitychange", () => alarm.tick());
  setInterval(() => alarm.tick(), SECOND_MS);
  setInterval(() => open === null && day?.tick(Date.now()), TICK_MS);
  setInterval(() => {
    const waits = state.ops > 0 || state.photos.waiting > 0;
    if (waits && document.visibilityState === "visible") void send(false);
  }, RETRY_MS);
}

/** @param {Awaited<typeof begun.words>} words */
function speak(words) {
  useWords(words, words.language);
  useFormats(regionFor(words.language, navigator.languages));
  document.documentElement.lang = words.language;
  byId("strip").setAttribute("aria-label", say("phone.strip.title"));
}

async function begin() {
  const { rulebook: book, words: spoken, settings: own, device: name } = begun;
  const storage = navigator.storage?.persisted?.();
  const [rulebook, words, remembered, device, persisted] = await Promise.all([book, spoken, own, name, storage]);
  speak(words);
  settings = remembered ?? { units: firstUnits(navigator.language) };
  wear(settings);
  state.persisted = persisted ?? null;
  const client = createClient({ outbox, device, hear: createInbox({ outbox, rulebook }), signedAs });
  const capture = createCapture({ outbox, rulebook, device, person: () => settings.technician?.id });
  const help = createHelp({ version, language: () => document.documentElement.lang });
  const handCarry = createHandCarry({ outbox, device });
  parts = { rulebook, outbox, device, capture, client, handCarry, later: help.later };
  const openId = () => open?.id ?? null;
  alarm = createAlarm({ place: byId("strip"), rulebook, openVisit: openId, go: goToClock, answer: answerClock });
  useHelp({ rulebook, read: help.read, unitOf: (quantity) => settings.units[quantity] ?? firstUnits("")[quantity] });
  listen();
  await show();
  await recallClocks().catch(failed);
  await followWorker();
  await send(false);
  window.addEventListener("online", help.keep);
  (window.requestIdleCallback ?? setTimeout)(help.keep);
}

// Its sentences came with the page, since the words may be what failed to load.
begin().catch((error) => {
  const failure = byId("failed");
  failure.append(el("p", null, error.message));
  failure.hidden = false;
  places.page.replaceChildren(failure);
  throw error;
});
