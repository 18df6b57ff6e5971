// The screen of a quick test: its first page, then the table with the number pad, then the verdict in the pad's room.
// DOM only: it is the same visit as in the steps; keeping and judging are handed in.

import { say } from "../language/words.js";
import { cellsOf, COLUMNS, FIRST, MORE, nextCell, QUICK } from "../visit/quick_step.js";
import { button, el, replace } from "./elements.js";
import { notices } from "./notices.js";
import { numberPad } from "./pad.js";
import { endPart, moreParts, testsOf, verdictOf } from "./quick_end.js";
import { altitudeOf, factsRow } from "./quick_facts.js";
import { padSight, padWork } from "./quick_pad.js";
import { startPage, waitsFor } from "./quick_start.js";
import { isEmpty, quickTable } from "./quick_table.js";
import { sightOf } from "./visit.js";
import { oneStrip } from "./numbers.js";
import { aboutOf } from "./result.js";

/** @typedef {import("../visit/quick_step.js").QuickCell} QuickCell */

/**
 * Where a person is in a quick test; it survives a redrawn screen, but not the page.
 *
 * @typedef {object} QuickState
 * @property {QuickCell | null} at the cell at hand; null while the pad is away
 * @property {boolean} begun whether the pad was opened once
 * @property {boolean} swing whether the upper end is being typed
 * @property {boolean} paused whether typing has paused, so that an odd number is asked about
 * @property {boolean} more whether the second table is shown
 * @property {boolean} other whether something other than the car says is in it
 * @property {boolean} panel whether the panel of the other refrigerants is to open
 * @property {{refrigerant: string, text?: string} | null} chosen named, its own cautions unread
 */

/**
 * @typedef {object} QuickScreen
 * @property {Places} places
 * @property {Tools} tools
 * @property {QuickState} state
 * @property {Actions} actions
 * @property {() => Sight} sight
 * @property {() => void} refresh
 * @property {() => void} draw
 */

/** @typedef {(sight: Sight) => void} Renewing of a part, after each keystroke */

/** @type {WeakMap<Page, QuickState>} */
const states = new WeakMap();

/** @param {Page} page @returns {QuickState} */
function stateOf(page) {
  const state = states.get(page) ?? {
    at: null, begun: false, swing: false, paused: false, more: false, other: false, panel: false, chosen: null,
  };
  states.set(page, state);
  return state;
}

/** @param {QuickState} state */
const rowsOf = ({ more }) => (more ? MORE : FIRST);

/** @param {string} words */
const note = (words) => el("p", { class: "meaning" }, words);

/** Whether both columns are in: After has whatever Before has. @param {Tools} tools */
function isWhole(tools) {
  const filled = FIRST.map((row) => COLUMNS.map((column) => !isEmpty({ row, column }, tools)));
  return filled.every(([before, after]) => before === after) && filled.some(([, after]) => after);
}

/**
 * What is under the table while the pad is open: the verdict once both columns are in, else where the reading lies.
 *
 * @param {QuickScreen} screen
 * @param {Sight} sight
 */
function underTable({ tools, state: { at, more } }, sight) {
  const { page, rulebook } = tools;
  if (more || isWhole(tools)) return el("p", { class: "live" }, verdictOf(page, sight, rulebook));
  if (at?.row.derived !== undefined && altitudeOf(tools).text === "") return note(say("quick.facts.lacking"));
  const strip = at?.row.strip;
  if (at === null || strip === undefined) return null;
  const tests = testsOf(page, sight).filter(({ role }) => role === at.column);
  return oneStrip(strip, tests, aboutOf(rulebook, sight.speak));
}

/** The keys that end a quick test. @param {QuickScreen} screen */
function endKeys({ state, actions, draw }) {
  const full = button(say("quick.end.full"), () => actions.inFull(() => actions.go("customer")), { class: "quiet" });
  const save = button(say("quick.end.save"), () => actions.go("result"), { class: "main" });
  const back = () => {
    state.more = false;
    draw();
  };
  const figures = button(say("quick.end.figures"), back, { class: "quiet" });
  return el("div", { class: "end-keys" }, state.more ? figures : full, save);
}

/** Keys of a keyboard, where there is one. @type {Record<string, string>} */
const KEYS = { Backspace: "erase", "-": "minus", ".": "point", ",": "point" };

/** @param {HTMLElement} place @param {(key: string) => void} press */
function listen(place, press) {
  place.onkeydown = (event) => {
    const key = /^\d$/.test(event.key) ? event.key : KEYS[event.key];
    const isCell = event.target instanceof Element && event.target.closest(".cell") !== null;
    if (key === undefined || !isCell) return;
    event.preventDefault();
    press(key);
  };
}

/** The table with the pad in the foot. @param {QuickScreen} screen @param {HTMLElement} facts @returns {Renewing} */
function drawPad(screen, facts) {
  const { places, state, tools, actions } = screen;
  const parts = { ...screen, rows: rowsOf(state) };
  const { press, goTo } = padWork(parts);
  const table = quickTable(parts.rows, tools, goTo);
  const pad = numberPad(press);
  const under = el("div", { class: "under" });
  places.foot.className = "pad-room";
  replace(places.page, notices(tools.page, actions, tools), facts, table.root, under);
  replace(places.foot, pad.root);
  listen(places.page, press);
  return (sight) => {
    const { at } = state;
    table.refresh(sight, at, state.swing);
    if (at === null) return;
    replace(under, underTable(screen, sight));
    pad.show(padSight(parts, at));
  };
}

/**
 * The table with the verdict in the room of the pad.
 *
 * @param {QuickScreen} screen
 * @param {HTMLElement} facts
 * @returns {Renewing}
 */
function drawEnd(screen, facts) {
  const { places, state, tools, actions, draw } = screen;
  const { page } = tools;
  /** @param {QuickCell | null} cell */
  const open = (cell) => {
    Object.assign(state, { at: cell, swing: false, paused: false });
    draw();
  };
  const table = quickTable(rowsOf(state), tools, open);
  const openMore = () => {
    state.more = true;
    open(nextCell(cellsOf(MORE), null, (cell) => isEmpty(cell, tools)));
  };
  const more = state.more ? moreParts(tools, actions) : null;
  const end = more?.root ?? endPart(tools, actions, screen.sight(), openMore);
  places.foot.className = "";
  replace(places.page, notices(page, actions, tools), facts, table.root, end);
  replace(places.foot, endKeys(screen));
  return (sight) => {
    table.refresh(sight, null, false);
    more?.refresh(sight);
  };
}

/** The first page. @param {QuickScreen} screen @param {HTMLElement} facts @returns {Renewing} */
function drawStart({ places, tools, state, actions, sight, draw }, facts) {
  const { root, foot } = startPage(tools, sight().visit, state, actions, draw);
  places.foot.className = "start-keys";
  replace(places.page, notices(tools.page, actions, tools), facts, root);
  replace(places.foot, ...foot);
  return () => undefined;
}

/** @param {Places} places @param {Actions} actions */
function drawHead(places, actions) {
  /** @param {Event} event */
  const home = (event) => {
    event.preventDefault();
    void actions.home();
  };
  const back = el("a", { class: "way", href: "/", on: { click: home } }, say("phone.page.day"));
  const context = el("div", { class: "context" }, places.saved, places.status);
  const title = el("h1", { "data-step": QUICK }, say("quick.title"));
  replace(places.head, el("div", { class: "quick-head" }, title, context, back));
  places.page.className = "quick";
}

/**
 * Draws the quick test and returns {refresh}: called after each keystroke, it renews texts, never a control.
 *
 * @param {Places} places
 * @param {{page: Page, step: Step, tools: Omit<Tools, "ticks">, actions: Actions}} visit
 * @returns {VisitScreen}
 */
export function quickScreen(places, { page, step, tools: means, actions }) {
  /** @type {Tools} */
  const tools = { ...means, ticks: [] };
  const state = stateOf(page);
  const sight = () => sightOf(page, step, tools);
  const other = page.visit.vehicle?.refrigerant === undefined ? null : () => {
    state.other = true;
  };
  const facts = factsRow(tools, { keep: actions.setAltitude, setUnit: actions.setUnit, again: () => draw(), other });
  /** @type {Renewing} */
  let renew = () => undefined;
  const refresh = () => {
    const now = sight();
    facts.refresh(now);
    renew(now);
  };
  const screen = { places, tools, state, actions, sight, refresh, draw };

  function draw() {
    const waits = waitsFor(sight().visit, state, tools.rulebook);
    if (!waits && !state.begun) {
      Object.assign(state, { begun: true, at: nextCell(cellsOf(FIRST), null, (cell) => isEmpty(cell, tools)) });
    }
    places.page.onkeydown = null;
    window.scrollTo(0, 0);
    renew = (waits ? drawStart : state.at === null ? drawEnd : drawPad)(screen, facts.root);
    refresh();
  }

  drawHead(places, actions);
  draw();
  return { refresh, tick: () => undefined, taken: () => undefined };
}
