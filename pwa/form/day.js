// The day: its visits with their state in words, what this phone holds, and the way to start a visit.
// DOM only: counts and visits are handed in, sending and starting are actions.

import { unsigned } from "../kernel.js";
import { hasDraft } from "../visit/visit_model.js";
import { openCautions } from "./cautions.js";
import { runningWords } from "./timers.js";
import { button, drawn, el, replace, setText, showHead } from "./elements.js";
import { helpKey } from "./help.js";
import { deskNotice, earlierNotice, homeFirst } from "./pairing.js";
import { clock, weekday } from "../language/formats.js";
import { has, say, term } from "../language/words.js";
import { beside, lastSentWords, photosWords, tallyWords } from "./words.js";
import { titleOf } from "./frame.js";

/**
 * One state per visit, the one a person has to know about: refused before being written, before waiting, before filed.
 *
 * @param {Pick<DayEntry, "view" | "draft">} entry
 * @returns {VisitState}
 */
export function stateOf({ view, draft }) {
  if (view !== undefined && view.tally.refused > 0) return "refused";
  if (draft !== undefined && hasDraft(draft)) return "written";
  if (view === undefined || view.visit.ended_at === undefined) return "written";
  return view.tally.waiting > 0 ? "waiting" : "filed";
}

/** @type {Record<VisitState, [tag: "path" | "circle", attributes: Attributes]>} */
const MARKS = {
  written: ["path", { d: "M1 9h8" }],
  waiting: ["circle", { cx: "5", cy: "5", r: "3.5" }],
  filed: ["path", { d: "M1 5l3 3 5-6" }],
  refused: ["path", { d: "M1 1l8 8M9 1l-8 8" }],
};

/** @param {VisitState} state */
const markOf = (state) =>
  drawn("svg", { class: "mark", viewBox: "0 0 10 10", "aria-hidden": "true" }, drawn(...MARKS[state]));

/**
 * What a visit waits for, or how it ended, and the step where that is.
 *
 * @param {Visit} visit
 * @param {Rulebook} rulebook
 * @returns {[words: string, slug: string]}
 */
function nextOf(visit, rulebook) {
  if (visit.void) return [say("phone.next.void"), "result"];
  if (visit.outcome && visit.ended_at) return [term("outcome", visit.outcome), "result"];
  const roles = new Set((visit.tests ?? []).map((test) => test.role));
  if (!visit.vehicle) return [say("phone.next.vehicle"), "vehicle"];
  if (openCautions(visit, rulebook).length > 0) return [say("phone.next.cautions"), "cautions"];
  if (!roles.has("before")) return [say("phone.next.before"), "before"];
  if (!roles.has("after")) return [say("phone.next.after"), (visit.work ?? []).length > 0 ? "after" : "work"];
  return [say("phone.next.finish"), "result"];
}

/** The step a visit is at: the first if it is only typed. @param {DayEntry} entry @param {Rulebook} rulebook */
function stepNow({ view, quick }, rulebook) {
  if (quick === true && view?.visit.ended_at === undefined) return "quick";
  return view === undefined ? "customer" : nextOf(view.visit, rulebook)[1];
}

/**
 * The visit as far as it is known; for one that is only typed, when it began.
 *
 * @param {DayEntry} entry
 * @returns {Visit}
 */
const visitOf = (entry) => entry.view?.visit ?? { id: entry.id, schema: 1, started_at: entry.startedAt };

/**
 * The line under a visit: its vehicle, what runs for it, what it waits for; updated while it is shown.
 *
 * @param {DayEntry} entry
 * @param {DayTools} about
 * @param {number} now
 */
function lineOf(entry, { rulebook, clocks }, now) {
  const visit = visitOf(entry);
  const vehicle = [visit.vehicle?.model, visit.vehicle?.plate].filter((part) => part).join(", ");
  const timers = visit.ended_at || visit.void ? undefined : clocks.get(entry.id);
  const runs = timers === undefined ? null : runningWords(timers, now, rulebook);
  const code = `phone.sheet.${entry.view?.sheet?.state}`;
  return beside([vehicle, nextOf(visit, rulebook)[0], has(code) && say(code), runs]);
}

/** @param {DayEntry} entry @param {DayTools} about @param {Go} go */
function row(entry, about, go) {
  const visit = visitOf(entry);
  const state = stateOf(entry);
  const next = el("span", { class: "next" });
  /** @param {number} now */
  const tick = (now) => setText(next, lineOf(entry, about, now));
  tick(about.now);
  about.ticks.push(tick);
  const step = stepNow(entry, about.rulebook);
  /** @param {Event} event */
  const open = (event) => {
    event.preventDefault();
    go(entry.id, step);
  };
  const differs = (entry.view?.conflicts ?? []).length > 0;
  const erased = entry.view?.erased === true;
  const link = el(
    "a", { href: `/visit/${entry.id}/${step}`, on: { click: open } },
    el("span", { class: "when" }, clock(new Date(visit.started_at))),
    el("span", { class: "where" }, titleOf(visit)),
    el("span", { class: "state" }, markOf(state), say(`phone.state.${state}`)),
    next,
  );
  return el(
    "li", null, link,
    differs && el("p", { class: "fault" }, say("phone.day.conflict")),
    erased && el("p", { class: "fault" }, say("phone.day.erased")),
  );
}

/** @param {DayEntry} entry */
const dayKey = (entry) => new Date(entry.startedAt).toDateString();

/** @param {DayEntry[]} entries @param {Date} today @param {DayTools} about @param {Go} go */
function lists(entries, today, about, go) {
  /** @type {Map<string, DayEntry[]>} */
  const groups = new Map();
  for (const entry of entries) groups.set(dayKey(entry), [...(groups.get(dayKey(entry)) ?? []), entry]);
  return [...groups.entries()].map(([key, group]) => {
    const heading = key === today.toDateString() ? null : el("h2", null, weekday(new Date(group[0].startedAt)));
    return [heading, el("ol", { class: "visits" }, ...group.map((entry) => row(entry, about, go)))];
  });
}

/** @param {DayEntry[]} entries @param {Date} today */
function titleWords(entries, today) {
  const now = entries.filter((entry) => dayKey(entry) === today.toDateString());
  const unsent = entries.filter((entry) => stateOf(entry) === "waiting").length;
  const many = now.length === 0 ? "none" : "today";
  return say(`phone.day.${many}${unsent === 0 ? "" : "_unsent"}`, { count: now.length, unsent });
}

/** @param {DayEntry[]} entries */
export function tallyOf(entries) {
  const tally = { captured: entries.length, filed: 0, waiting: 0, refused: 0 };
  for (const { view } of entries) {
    if (view === undefined) tally.waiting += 1;
    else if (view.tally.refused > 0) tally.refused += 1;
    else if (view.tally.waiting > 0) tally.waiting += 1;
    else tally.filed += 1;
  }
  return tally;
}

/** @param {boolean | null} persisted */
const storedWords = (persisted) =>
  persisted === null ? null : say(persisted ? "phone.storage.protected" : "phone.storage.unprotected");

/** @param {DayEntry[]} entries @param {DayState} state @param {Date} now @param {() => unknown} update */
function holdings(entries, state, now, update) {
  const waiting = say("phone.day.entries", { count: state.ops });
  const takeIt = button(say("phone.day.take_update"), update, { class: "quiet" });
  const unpaired = deskNotice(state.desk);
  const earlier = entries.length === 0 ? earlierNotice(state.desk, now) : null;
  const pictures = photosWords(state.photos);
  const pairing = el("a", { class: "way", href: "/#settings" }, say("phone.day.pair"));
  return el(
    "section", { class: "holdings" },
    el("h2", null, say("phone.day.holdings")),
    el("p", { id: "tally" }, tallyWords(tallyOf(entries))),
    unpaired && el("p", { id: "desk" }, unpaired, " ", pairing),
    earlier && el("p", { id: "earlier" }, earlier),
    el("p", { id: "last" }, lastSentWords(state.lastSuccess, now)),
    state.ops > 0 && el("p", { class: "meaning" }, waiting),
    pictures && el("p", { class: "meaning", id: "photos" }, pictures),
    state.update && el("p", { class: "update" }, say("phone.day.update"), " ", takeIt),
    state.update && helpKey("key", "update"),
  );
}

/**
 * A search over every visit on this phone, by plate, VIN, name or place; no signal needed.
 *
 * @param {DayEntry[]} entries
 * @param {(entries: DayEntry[]) => void} show
 */
function finder(entries, show) {
  // A day that redraws by itself leaves the field where it is: what is typed stays, and so does the keyboard.
  /** @type {HTMLInputElement} */
  const input = document.querySelector("input#find")
    ?? el("input", { type: "search", class: "written", id: "find", autocomplete: "off" });
  const find = () => show(matching(entries, input.value));
  input.oninput = find;
  if (input.value !== "") find();
  return input.parentElement
    ?? el("div", { class: "field find" }, el("label", { for: "find" }, say("phone.day.find")), input);
}

/** @param {DayEntry[]} entries @param {string} text */
function matching(entries, text) {
  const sought = text.trim().toLowerCase();
  if (sought === "") return entries;
  const bare = unsigned(sought);
  return entries.filter(({ view }) => {
    const { vehicle = {}, customer = {}, place = {} } = view?.visit ?? {};
    const words = [vehicle.plate, vehicle.vin, customer.name, customer.address, place.label, vehicle.model];
    const marks = [vehicle.plate, vehicle.vin].map((part) => unsigned(part ?? ""));
    return words.some((part) => part !== undefined && part.toLowerCase().includes(sought))
      || (bare !== "" && marks.some((mark) => mark.includes(bare)));
  });
}

/**
 * Draws the day and returns {tick(now)}, which renews what runs.
 *
 * @param {Places} places
 * @param {DayPage} day
 */
export function dayScreen(places, { entries, clocks, state, rulebook, actions, today }) {
  /** @type {DayTools} */
  const about = { rulebook, clocks, now: today.getTime(), ticks: [] };
  const standing = [weekday(today), say(`phone.ready.${state.ready}`), storedWords(state.persisted)];
  const context = standing.filter((part) => part).join("\u00a0\u00b7 ");
  const settings = el("a", { class: "way", href: "/#settings" }, say("phone.page.settings"));
  const title = el("h1", null, titleWords(entries, today));
  showHead(places, el("p", { class: "context", id: "offline" }, context), title, settings);
  const visits = el("div");
  /** @param {DayEntry[]} some */
  const show = (some) => replace(visits, ...lists(some, today, about, actions.open).flat());
  show(entries);
  const empty = entries.length === 0 ? el("p", { class: "finding" }, say("phone.day.empty")) : null;
  places.page.className = "day";
  const find = entries.length > 3 ? finder(entries, show) : null;
  replace(places.page, homeFirst(), empty, visits, find, holdings(entries, state, today, actions.update));
  const send = button(say("phone.day.send"), actions.send, { class: "quiet" });
  const takeOut = button(say("phone.day.export"), actions.takeOut, { class: "quiet" });
  const start = button(say("phone.day.start"), actions.start, { class: "main" });
  const ways = el("div", { class: "ways" }, send, takeOut, helpKey("key", "send_now"));
  const quick = button(say("quick.key"), actions.quick, { class: "outlined" });
  replace(places.foot, el("div", { class: "two-keys" }, quick, start), ways, places.status);
  return { tick: (/** @type {number} */ now) => about.ticks.forEach((tick) => tick(now)) };
}
