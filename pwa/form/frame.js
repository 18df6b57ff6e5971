// The frame around the current step: the head with whose visit it is, the foot with Steps and the next thing to do,
// and the panel of all steps that rises from the foot. DOM only: going elsewhere is handed in.

import { stepsOf } from "../visit/steps.js";
import { clockExact } from "../language/formats.js";
import { say, term } from "../language/words.js";
import { button, el, setText, showHead } from "./elements.js";
import { progressOf, stateWord, vehicleName } from "./progress.js";
import { beside } from "./words.js";

/** @typedef {Pick<Actions, "go" | "home">} Ways */
/** @typedef {{page: Page, step: Step, tools: Pick<Tools, "rulebook">, actions: Ways}} Standing */

/** @param {Pick<Visit, "place" | "customer">} visit */
export const titleOf = (visit) =>
  visit.place?.label ?? visit.customer?.name ?? visit.customer?.address ?? say("phone.day.untitled");

/** What a visit is called in a few signs. @param {Pick<Visit, "place" | "customer" | "vehicle">} visit */
export const shortTitle = (visit) => visit.vehicle?.plate ?? titleOf(visit);

/**
 * Follows a tapped link the page's own way.
 *
 * @param {() => unknown} go
 * @returns {(event: Event) => void}
 */
const instead = (go) => (event) => {
  event.preventDefault();
  go();
};

/** Whose visit it is, at which car, what is in it, how high it stands. @param {Visit} visit @param {Speaker} speak */
function contextOf(visit, speak) {
  const altitude = visit.place?.altitude_m === undefined ? null : speak.altitude(visit.place.altitude_m);
  const inside = visit.vehicle?.refrigerant && term("refrigerant", visit.vehicle.refrigerant);
  return beside([vehicleName(visit), visit.customer?.name ?? titleOf(visit), inside, altitude]);
}

/**
 * The head: the title, one line of context, the way to the day.
 *
 * @param {Places} places
 * @param {Standing} standing
 */
export function headOf(places, { step, actions }) {
  const about = el("span");
  const context = el("p", { class: "context" }, about, " ", places.saved);
  const back = el("a", { class: "way", href: "/", on: { click: instead(actions.home) } }, say("phone.page.day"));
  showHead(places, context, el("h1", { "data-step": step.slug }, step.title), back);
  /** @param {Sight} sight */
  return (sight) => setText(about, `${contextOf(sight.visit, sight.speak)} \u00b7`);
}

/** @param {number | null} at when something was last kept @param {boolean} kept whether anything is */
export function savedAt(at, kept) {
  if (at === null) return say(kept ? "phone.saved.short" : "phone.saved.none");
  return say("phone.saved.at", { clock: clockExact(new Date(at)) });
}

const STATES = /** @type {const} */ (["done", "begun", "open"]);

/** @param {string} state */
const mark = (state) => el("span", { class: `tick ${state}`, "aria-hidden": "true" });

/**
 * A row of the panel: the whole of it is the link.
 *
 * @param {Step} one
 * @param {Standing & {sight: Sight, leave: () => void}} standing
 */
function rowOf(one, { page, step, tools, actions, sight, leave }) {
  const { state, words } = progressOf(page, one, tools.rulebook, sight.visit);
  const here = one.slug === step.slug;
  const detail = beside([here && say("phone.progress.here"), words]);
  const click = instead(() => {
    leave();
    return actions.go(one.slug);
  });
  const attributes = {
    href: `/visit/${page.id}/${one.slug}`, "aria-current": here && "step", autofocus: here, on: { click },
    "aria-label": beside([one.title, stateWord(state), detail]),
  };
  return el("li", null, el("a", attributes, mark(state), el("b", null, one.title), el("span", null, detail)));
}

/**
 * All steps, from below. It is made when opened, so that it is up to date, and removed when closed.
 *
 * @param {Standing & {sight: Sight, main: HTMLElement}} standing
 */
function openPanel(standing) {
  const leave = () => dialog.close();
  const rows = stepsOf(standing.tools.rulebook).map((one) => rowOf(one, { ...standing, leave }));
  const legend = STATES.map((state) => el("span", null, mark(state), stateWord(state)));
  const next = () => {
    leave();
    standing.main.click();
  };
  const name = say("phone.page.steps");
  /** @type {HTMLDialogElement} */
  const dialog = el(
    "dialog", { class: "steps-panel", "aria-label": name, on: { close: () => dialog.remove(), click: beyond } },
    el("div", { class: "legend" }, legend),
    el("nav", { "aria-label": name }, el("ol", null, rows)),
    el(
      "div", { class: "keys" }, stepsKey(say("phone.page.shut"), standing, leave, true),
      button(standing.main.textContent ?? "", next, { class: "main" }),
    ),
  );
  /** A tap on what is behind. @param {MouseEvent} event */
  function beyond(event) {
    if (event.target === dialog && event.clientY < dialog.getBoundingClientRect().top) leave();
  }
  document.body.append(dialog);
  dialog.showModal();
}

/**
 * The key at the left of the foot, over a tick for each step.
 *
 * @param {string} label
 * @param {Standing & {sight: Sight}} standing
 * @param {() => void} press
 * @param {boolean} [shut]
 */
function stepsKey(label, { page, step, tools, sight }, press, shut = false) {
  const ticks = stepsOf(tools.rulebook).map((one) => {
    const tick = mark("");
    /** @param {Sight} now */
    const refresh = (now) => {
      const here = one.slug === step.slug ? " here" : "";
      tick.className = `tick ${progressOf(page, one, tools.rulebook, now.visit).state}${here}`;
    };
    return { tick, refresh };
  });
  const root = button("", press, { class: `steps${shut ? " shut" : ""}` });
  root.append(el("span", null, label), el("span", { class: "ticks" }, ticks.map(({ tick }) => tick)));
  /** @param {Sight} now */
  const refresh = (now) => ticks.forEach((one) => one.refresh(now));
  refresh(sight);
  return Object.assign(root, { refresh });
}

/**
 * The foot: Steps, and `main`, the next thing to do; messages appear above them.
 *
 * @param {Places} places
 * @param {Standing} standing
 * @param {HTMLElement} main
 * @param {() => Sight} look
 */
export function footOf(places, standing, main, look) {
  const steps = stepsOf(standing.tools.rulebook);
  const label = say("phone.page.steps_key", { here: steps.indexOf(standing.step) + 1, all: steps.length });
  const open = () => openPanel({ ...standing, sight: look(), main });
  const key = stepsKey(label, { ...standing, sight: look() }, open);
  key.setAttribute("aria-haspopup", "dialog");
  places.foot.replaceChildren(places.status, el("div", { class: "keys" }, key, main));
  return key.refresh;
}
