// List entries of a step: work, moves, consents and checks to tap, a rest reading, price lines; what belongs to them.
// DOM only: values come from and go to the page through `tools`; what a mass or a mix means is said elsewhere.

import { clockName } from "../visit/clock_places.js";
import { minutesOf } from "../visit/timers.js";
import { plainInUnit, valueOf } from "../visit/number_input.js";
import { say, term } from "../language/words.js";
import { itemEntry, itemIsOn, nameOf, repeatedOf, typeIntoItem } from "../visit/visit_model.js";
import { clockRow, fill } from "./timers.js";
import { deedCaution } from "./deeds.js";
import { button, el, setText } from "./elements.js";
import { control } from "./fields.js";
import { withHelp } from "./help.js";
import { cleanerWords, weighedOf, weighedWords } from "./meanings.js";
import { named } from "./reach.js";
import { sentenceCase } from "./words.js";

/** What an item is written with. @typedef {Omit<Tools, "step" | "ticks">} Pen */

/** @param {Item} item @param {Field} field @param {Pen} tools @returns {StepSource} */
function itemSource(item, field, tools) {
  const { page, rulebook } = tools;
  /** @param {Entry} entry */
  const put = ({ text, unit = tools.unitFor(field) }) => typeIntoItem(page, item, field, { text, unit }, tools.now());
  return {
    get: () => itemEntry(page, item, field, tools.unitFor(field), rulebook),
    put,
    set: (entry) => {
      put(entry);
      if (field.path[0] === "rise_pa") fillHeld(item, tools);
      if (field.path[0].startsWith("cylinder_")) fillWeighed(item, tools);
      tools.typed();
    },
  };
}

/** The same for the item's field of that name. @param {Item} item @param {string} name @param {Pen} tools */
const namedSource = (item, name, tools) =>
  itemSource(item, /** @type {Field} */ (item.fields.find((field) => nameOf(field) === name)), tools);

/**
 * What the cylinder lost or gained is the mass that moved; a mass from another scale stays, and is questioned.
 *
 * @param {Item} item
 * @param {Pen} tools
 */
function fillWeighed(item, tools) {
  const masses = item.fields.filter((field) => nameOf(field).startsWith("cylinder_")).map((field) => {
    const entry = itemSource(item, field, tools).get();
    return [nameOf(field), valueOf(field, entry, tools.rulebook).value];
  });
  const weighed = weighedOf({ kind: item.base.kind, ...Object.fromEntries(masses) });
  if (weighed === null || weighed < 0) return;
  const source = namedSource(item, "grams", tools);
  fill(source, `${item.slot}.grams`, plainInUnit("mass", source.get().unit, weighed, tools.rulebook), tools);
}

/**
 * The rise of a vacuum is read when the hold ends: its minutes are written with it.
 *
 * @param {Item} item
 * @param {Pen} tools
 */
function fillHeld(item, tools) {
  const minutes = minutesOf(tools.clocks.state(), `hold.${item.slot}`, tools.clocks.now());
  if (typeof minutes !== "number") return;
  fill(namedSource(item, "held_min", tools), `${item.slot}.held_min`, String(minutes), tools);
}

/**
 * Ends a clock of an item: its minutes are written, and the clock that comes next begins.
 *
 * @param {Item} item
 * @param {Field & {clock: FieldClock}} field
 * @param {Pen} tools
 */
export function endClock(item, field, tools) {
  const { clocks } = tools;
  const name = clockName(field.clock, item.slot);
  const minutes = minutesOf(clocks.state(), name, clocks.now());
  const source = itemSource(item, field, tools);
  if (typeof minutes === "number") fill(source, `${item.slot}.${nameOf(field)}`, String(minutes), tools, true);
  clocks.stop(name);
  if (field.clock.then !== undefined) clocks.start(field.clock.then);
  tools.typed();
}

/**
 * A field of an item with its clock over it, where it has one; ended by its other key, the minutes are written.
 *
 * @param {Item} item
 * @param {Field} field
 * @param {Tools} tools
 * @returns {Part}
 */
function itemControl(item, field, tools) {
  const source = itemSource(item, field, tools);
  const part = control(field, source, tools);
  const { label, clock } = field;
  if (clock === undefined) return part;
  const ended = () => {
    endClock(item, { ...field, clock }, tools);
    tools.ticks.forEach((tick) => tick());
  };
  const row = clockRow({ label, clock }, clockName(clock, item.slot), tools, ended);
  return { ...part, root: el("div", null, row, part.root) };
}

/** @param {Item} item @param {Tools} tools @returns {Part} */
function listEntry(item, tools) {
  const controls = item.fields.map((field) => control(field, itemSource(item, field, tools), tools));
  const heading = item.label && item.fields.length > 1 ? el("h2", null, item.label) : null;
  const root = el("section", { class: "entry" }, heading, controls.map((one) => one.root));
  return { root, refresh: (sight) => controls.forEach((one) => one.refresh(sight)) };
}

/**
 * One tap for everything looked at and not yet answered: with fifteen items, the good ones shouldn't cost fifteen taps.
 *
 * @param {Item[]} items
 * @param {Tools} tools
 * @returns {Part}
 */
export function restOk(items, tools) {
  const sources = items.map((item) => itemSource(item, item.fields[0], tools));
  const unsaid = () => sources.filter((source) => source.get().text === "");
  const key = button(say("phone.form.rest_ok"), () => {
    for (const source of unsaid()) source.put({ text: "ok" });
    tools.typed();
  }, { class: "quiet" });
  const root = el("div", null, withHelp(key, "all_ok"));
  return { root, refresh: () => (root.hidden = unsaid().length === 0) };
}

/**
 * A thing to look at, with its two answers in their own words. Untouched it was not looked at; the chosen answer tapped
 * again takes it back. A note is there with a fault, or behind its key, which keeps its place while it is not needed.
 *
 * @param {Item} item
 * @param {Tools} tools
 * @returns {Part}
 */
function checkEntry(item, tools) {
  const { code } = item.base;
  const label = sentenceCase(term("look", code));
  /** @type {Field["answers"]} */
  const answers = [["ok", term("look_ok", code)], ["fault", term("look_fault", code)]];
  const [state, note] = item.fields.map((field) => itemSource(item, field, tools));
  const part = control({ ...item.fields[0], label, answers }, state, tools);
  const words = control({ ...item.fields[1], label: say("phone.form.note_of", { label }) }, note, tools);
  const key = button(say("phone.form.note"), () => {
    words.root.hidden = !words.root.hidden;
    key.setAttribute("aria-expanded", String(!words.root.hidden));
    words.root.querySelector("input")?.focus();
  }, { class: "quiet note", "aria-label": say("phone.form.note_on", { label }), "aria-expanded": "false" });
  words.root.hidden = true;
  const root = el("div", { class: "check" }, part.root, key, words.root);
  return {
    root,
    refresh: (sight) => {
      part.refresh(sight);
      words.refresh(sight);
      const isSaid = note.get().text !== "";
      if (isSaid) words.root.hidden = false;
      key.classList.toggle("away", state.get().text === "" || isSaid);
    },
  };
}

/** @type {Partial<Record<ListName, string>>} */
const GROUPS = { work: "work", refrigerant_moves: "move", consent: "consent" };

// The last of the fields that a mix or a mass is worked out from: what it comes to stands right under it.
const SUMMED = ["passes", "cylinder_after_g"];

/** @param {Item} item @param {boolean} on @param {Tools} tools */
const note = (item, on, tools) => typeIntoItem(tools.page, item, null, { on }, tools.now());

/**
 * The caution that is read before the entry is noted, where one belongs to it.
 *
 * @param {Item} item
 * @param {Tools} tools
 * @param {import("./deeds.js").Waiting} waiting
 */
const cautionOf = (item, tools, waiting) => deedCaution(item, tools, waiting, {
  stand: (one) => note(one, true, tools),
  begin: (one, clock) => {
    tools.clocks.start(`${clock}.${one.slot}`);
    tools.ticks.forEach((tick) => tick());
  },
});

/**
 * A piece of work, a move, a consent: a word to tap, and what goes with it once tapped.
 *
 * @param {Item} item
 * @param {Tools} tools
 * @param {import("./deeds.js").Waiting} waiting
 * @returns {Part}
 */
function toggledEntry(item, tools, waiting) {
  const words = sentenceCase(term(GROUPS[item.list] ?? "", item.slot));
  const controls = item.fields.map((field) => itemControl(item, field, tools));
  const sum = el("p", { class: "meaning told", role: "status" });
  const roots = controls.map((one) => one.root);
  roots.splice(item.fields.findIndex((field) => SUMMED.includes(nameOf(field))) + 1, 0, sum);
  const inner = el("div", { class: "inner", role: "group", "aria-label": words }, roots);
  const caution = cautionOf(item, tools, waiting);
  const toggle = button(words, () => {
    const on = itemIsOn(tools.page, item);
    if (!on && caution?.isOpen()) caution.turn();
    else note(item, !on, tools);
    tools.typed();
  }, { class: "toggle", "aria-controls": caution?.id });
  const later = caution && button(say("phone.deed.later"), () => {
    caution.turn();
    tools.typed();
  }, { class: "quiet" });
  const tick = el("div", { class: "deed" }, toggle, caution?.note);
  const root = el("div", { class: "work" }, tick, caution?.block, later, inner);
  /** @param {Sight} sight */
  const refresh = (sight) => {
    const on = itemIsOn(tools.page, item);
    caution?.refresh();
    toggle.setAttribute("aria-pressed", !on && caution?.waits() ? "mixed" : String(on));
    if (later !== null) later.hidden = !on || !caution?.isOpen() || caution.waits();
    inner.hidden = !on;
    if (item.mixed === true) setText(sum, cleanerWords(item, sight, tools.rulebook));
    if (item.weighed === true) setText(sum, weighedWords(item, sight, tools.rulebook));
    controls.forEach((one) => one.refresh(sight));
  };
  return { root, refresh };
}

/** @param {Item} item @param {Tools} tools @param {import("./deeds.js").Waiting} waiting @returns {Part} */
export function entryOf(item, tools, waiting) {
  const part = partOf(item, tools, waiting);
  named(part.root, `${item.list}/${item.slot}`);
  return part;
}

/** @param {Item} item @param {Tools} tools @param {import("./deeds.js").Waiting} waiting @returns {Part} */
function partOf(item, tools, waiting) {
  if (GROUPS[item.list] !== undefined) return toggledEntry(item, tools, waiting);
  if (item.list === "checks") return checkEntry(item, tools);
  return listEntry(item, tools);
}

/**
 * Every price line as it now stands; `draw` is called when one is taken out.
 *
 * @param {Tools} tools
 * @param {() => void} draw
 * @returns {Part[]}
 */
export function chargeLines(tools, draw) {
  const { repeated } = tools.step;
  const items = repeated === undefined ? [] : repeatedOf(tools.page, repeated);
  return items.filter((item) => itemIsOn(tools.page, item)).map((item, index) => {
    const controls = item.fields.map((field) => control(field, itemSource(item, field, tools), tools));
    const out = button(say("phone.form.remove_line"), () => {
      typeIntoItem(tools.page, item, null, { on: false }, tools.now());
      draw();
      tools.typed();
    }, { class: "quiet" });
    const line = { class: "line", role: "group", "aria-label": say("phone.form.line", { number: index + 1 }) };
    const root = el("div", line, controls.map((one) => one.root), withHelp(out, "delete_entry"));
    return { root, refresh: (sight) => controls.forEach((one) => one.refresh(sight)) };
  });
}

/** Begins another line. @param {Tools} tools */
export function addLine(tools) {
  const item = tools.step.repeated?.make(`new-${tools.newId()}`);
  if (item === undefined) return;
  typeIntoItem(tools.page, item, null, { on: true }, tools.now());
  const tax = tools.taxPct();
  if (tax !== undefined) namedSource(item, "tax_pct", tools).put({ text: String(tax) });
}
