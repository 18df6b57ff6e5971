// One step of a visit as a form: its fields, its list entries, in order; which of them are asked at the moment.
// DOM only: values come from and go to the page through `tools`, which also says what a reading means.

import { minutesOf } from "../clocks.js";
import { inUnit, valueOf } from "../entry.js";
import { entryFor, itemEntry, itemIsOn, itemsOf, repeatedOf, typeInto, typeIntoItem, valueAt } from "../page.js";
import { modelYear, vinState } from "../vin.js";
import { barcodeKey, canReadBarcodes } from "./barcode.js";
import { clockRow, fill, tapsBlock } from "./clocks.js";
import { button, el, say } from "./elements.js";
import { control, headingOf } from "./fields.js";
import { cleanerWords, weighedOf, weighedWords } from "./meanings.js";
import { offersRow } from "./offers.js";
import { priceBlock } from "./price.js";
import { codeWords, sentenceCase } from "./words.js";

// Where a field of the visit, or of the step's test, is read and written.
function fieldSource(field, tools) {
  const { page, step, rulebook } = tools;
  const put = (entry) => typeInto(page, step, field, { text: entry.text, unit: entry.unit ?? tools.unitFor(field) }, tools.freshTest());
  return {
    get: () => entryFor(page, step, field, tools.unitFor(field), rulebook),
    put,
    set: (entry) => {
      put(entry);
      named(field, tools);
      if (field.check === "vin") fillYear(entry.text, tools);
      if (TAKEN.includes(field.path.join("."))) fillFromClocks(tools);
      tools.typed();
    },
  };
}

// A customer or a vehicle that is written down bears an id from its first word on.
function named(field, tools) {
  const id = tools.step.fields.find((one) => one.hidden === true && one.path.at(-1) === "id" && one.path[0] === field.path[0]);
  if (id === undefined) return;
  const source = fieldSource(id, tools);
  if (source.get().text === "") source.put({ text: tools.newId() });
}

// A North American number says its model year; what a person wrote as the year stays.
function fillYear(text, tools) {
  const year = vinState(text) === "right" ? modelYear(text) : null;
  const field = tools.step.fields.find((one) => one.path?.join(".") === "vehicle.year");
  if (year !== null) fill(fieldSource(field, tools), "vehicle.year", String(year), tools);
}

// The readings with which a test is taken: the minutes on the clocks are theirs.
const TAKEN = ["readings.low_kpa_g", "readings.high_kpa_g", "readings.vent_c"];

const clockName = (field, role) => (field.clock.name === "running" ? `running.${role}` : field.clock.name);

// Writes the running minutes into the fields that ask for them; what a person wrote there stays.
export function fillFromClocks(tools, again = false) {
  const { step, clocks } = tools;
  for (const field of step.fields.filter((one) => one.clock !== undefined)) {
    const minutes = minutesOf(clocks.state(), clockName(field, step.role), clocks.now());
    if (typeof minutes === "number") fill(fieldSource(field, tools), `${step.role}.${field.path.at(-1)}`, String(minutes), tools, again);
  }
}

function itemSource(item, field, tools) {
  const { page, rulebook } = tools;
  const put = (entry) => typeIntoItem(page, item, field, { text: entry.text, unit: entry.unit ?? tools.unitFor(field) }, tools.now());
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

// What the cylinder lost or gained is the mass that moved; a mass from another scale stays, and is questioned.
function fillWeighed(item, tools) {
  const { page, rulebook } = tools;
  const grams = (name) => valueOf({ kind: "number", quantity: "mass" }, itemEntry(page, item, { kind: "number", quantity: "mass", path: [name] }, tools.unitFor({ quantity: "mass" }), rulebook), rulebook).value;
  const weighed = weighedOf({ kind: item.base.kind, cylinder_before_g: grams("cylinder_before_g"), cylinder_after_g: grams("cylinder_after_g") });
  if (weighed === null || weighed < 0) return;
  const source = itemSource(item, item.fields.find((one) => one.path[0] === "grams"), tools);
  fill(source, `${item.slot}.grams`, inUnit("mass", source.get().unit, weighed, rulebook), tools);
}

// The rise of a vacuum is read when the hold ends: its minutes are written with it.
function fillHeld(item, tools) {
  const field = item.fields.find((one) => one.clock?.name === "hold");
  const minutes = minutesOf(tools.clocks.state(), `hold.${item.slot}`, tools.clocks.now());
  if (typeof minutes === "number") fill(itemSource(item, field, tools), `${item.slot}.held_min`, String(minutes), tools);
}

// A field of an item with its clock under it, where it has one; ended by its other key, the minutes are written.
function itemControl(item, field, tools) {
  const source = itemSource(item, field, tools);
  const made = control(field, source, tools);
  if (field.clock === undefined) return made;
  const name = `${field.clock.name}.${item.slot}`;
  const ended = (minutes) => {
    if (typeof minutes === "number") fill(source, `${item.slot}.${field.path.at(-1)}`, String(minutes), tools, true);
    tools.clocks.stop(name);
    tools.clocks.start(field.clock.then);
    tools.typed();
  };
  return { ...made, root: el("div", null, made.root, clockRow(field, name, tools, ended)) };
}

// A field with `when` is asked only once the field it leans on says so: one of the listed codes, or anything at all.
function isAsked(field, fields, tools) {
  if (field.when === undefined) return true;
  const [path, codes] = field.when;
  const other = fields.find((one) => one.path?.join(".") === path);
  const text = other === undefined ? (valueAt(tools.page.visit, path.split(".")) ?? "") : fieldSource(other, tools).get().text;
  return codes === null ? text !== "" : codes.includes(text);
}

function listEntry(item, tools) {
  const controls = item.fields.map((field) => control(field, itemSource(item, field, tools), tools));
  const root = el("section", { class: "entry" }, item.label && item.fields.length > 1 ? el("h2", null, item.label) : null, controls.map((one) => one.root));
  return { root, refresh: (sight) => controls.forEach((one) => one.refresh(sight)) };
}

function checkEntry(item, tools) {
  const field = { ...item.fields[0], label: sentenceCase(codeWords(tools.rulebook, item.base.code, "checks")) };
  const made = control(field, itemSource(item, field, tools), tools);
  made.root.classList.add("check");
  return made;
}

const GROUPS = { work: "work", refrigerant_moves: "move", consent: "consent" };

// A piece of work, a move, a consent: a word to tap, and what belongs to it once it is tapped.
function toggledEntry(item, tools) {
  const words = sentenceCase(codeWords(tools.rulebook, item.slot, GROUPS[item.list]));
  const controls = item.fields.map((field) => itemControl(item, field, tools));
  const told = el("p", { class: "meaning told", role: "status" });
  const [last, ...others] = controls.map((one) => one.root).toReversed();
  const inner = el("div", { class: "inner", role: "group", "aria-label": words }, others.toReversed(), told, last);
  const toggle = button(words, () => {
    typeIntoItem(tools.page, item, null, { on: !itemIsOn(tools.page, item) }, tools.now());
    tools.typed();
  }, { class: "toggle" });
  const root = el("div", { class: "work" }, toggle, inner);
  const refresh = (sight) => {
    const on = itemIsOn(tools.page, item);
    toggle.setAttribute("aria-pressed", String(on));
    inner.hidden = !on;
    if (item.mixed === true) say(told, cleanerWords(item, sight, tools.rulebook));
    if (item.weighed === true) say(told, weighedWords(item, sight, tools.rulebook));
    controls.forEach((one) => one.refresh(sight));
  };
  return { root, refresh };
}

function entryOf(item, tools) {
  if (GROUPS[item.list] !== undefined) return toggledEntry(item, tools);
  if (item.list === "checks") return checkEntry(item, tools);
  return listEntry(item, tools);
}

function fieldControl(field, tools) {
  if (field.kind === "taps") {
    const named = (name) => fieldSource(tools.step.fields.find((one) => one.path?.at(-1) === name), tools);
    return tapsBlock(tools.step.role, { on: named("on_s"), off: named("off_s") }, tools);
  }
  const source = fieldSource(field, tools);
  if (field.path.join(".") === "paid.method") source.set = stamped(source.set, tools);
  const made = control(field, source, tools);
  if (field.clock !== undefined) return { ...made, root: el("div", null, made.root, clockRow(field, clockName(field, tools.step.role), tools)) };
  return field.offers === undefined ? made : offered(made, field, tools);
}

// A field with offers under it, and for a VIN the key that reads its barcode.
function offered(made, field, tools) {
  const source = fieldSource(field, tools);
  const offers = offersRow(field, tools, (one) => fieldSource(one, tools));
  const found = (vin) => (vin === null ? tools.say("No VIN could be read in that picture. Type it, or take it closer.") : source.set({ text: vin }));
  const key = field.check === "vin" && canReadBarcodes() ? barcodeKey(found) : null;
  const refresh = (sight) => [made, offers].forEach((one) => one.refresh(sight));
  return { ...made, root: el("div", null, made.root, key, offers.root), refresh };
}

// How it was paid carries the instant it was said; taken back, both go.
function stamped(set, tools) {
  const at = fieldSource(tools.step.fields.find((one) => one.path?.join(".") === "paid.at"), tools);
  return (entry) => {
    at.put({ text: entry.text === "" ? "" : tools.now() });
    set(entry);
  };
}

function fieldsOf(tools) {
  const { step } = tools;
  return step.fields.filter((field) => field.hidden !== true).map((field) => {
    if (field.kind === "heading") return headingOf(field);
    const made = fieldControl(field, tools);
    return {
      root: made.root,
      field,
      refresh: (sight) => {
        made.root.hidden = !isAsked(field, step.fields, tools);
        made.refresh(sight);
      },
    };
  });
}

// Parts folded into one line that says what stands in them. `words()` are those of the line.
function folded(title, parts, words, open) {
  const line = el("span", { class: "meaning" });
  const turn = el("span", { class: "turn" });
  const root = el("details", { class: "held", open });
  const turned = () => (turn.textContent = root.open ? "fold away" : "change");
  root.addEventListener("toggle", turned);
  root.append(el("summary", null, el("b", null, title), line, turn), ...parts.map((part) => part.root));
  turned();
  const refresh = (sight) => {
    line.textContent = words().join(" \u00b7 ");
    parts.forEach((part) => part.refresh(sight));
  };
  return { root, refresh };
}

// What is held during a test, out of the way once it is written down, so that the readings come first.
function heldBlock(parts, tools) {
  const fields = tools.step.fields.filter((field) => field.held === true);
  const told = () => fields.map((field) => [field, fieldSource(field, tools).get().text]).filter(([, text]) => text !== "");
  const words = ([field, text]) => `${field.label.toLowerCase()} ${codeWords(tools.rulebook, text, field.vocabulary)}`;
  return folded("Held during the test", parts, () => told().map(words), told().length < fields.length / 2);
}

// What was seen and heard, and the note: many words, asked for seldom.
function notedBlock(parts, tools) {
  const codes = (text) => text.split(" ").filter((code) => code !== "").map((code) => codeWords(tools.rulebook, code, "observed"));
  const words = () => parts.flatMap(({ field }) => {
    const { text } = fieldSource(field, tools).get();
    return field.kind === "codes" ? codes(text) : text === "" ? [] : ["a note"];
  });
  return folded("Seen, heard, noted", parts, words, false);
}

// Takes the settings of the earlier test over, for the fields that mean to be held alike.
function sameAsBefore(tools, earlier) {
  for (const field of tools.step.fields.filter((one) => one.carried === true)) {
    const source = fieldSource(field, tools);
    const value = valueAt(earlier, field.path);
    if (value === undefined || value === null || source.get().text !== "") continue;
    source.set({ text: field.kind === "flag" ? { true: "yes", false: "no" }[value] : String(value) });
  }
  tools.typed();
}

const LIST_HEADINGS = { consent: "Agreed", checks: "Looked at", work: "Done", refrigerant_moves: "Refrigerant, oil and tests" };

// Sets a heading before the first entry of each list that has one.
function headed(items, headings, parts) {
  for (const [list, words] of Object.entries(headings)) {
    const first = items.find((one) => one.list === list);
    if (first !== undefined) parts.splice(parts.indexOf(first), 0, headingOf({ label: words }));
  }
}

// Every price line as it now stands; `draw` is called when one is taken out.
function chargeLines(tools, draw) {
  const on = repeatedOf(tools.page, tools.step.repeated).filter((item) => itemIsOn(tools.page, item));
  return on.map((item, index) => {
    const controls = item.fields.map((field) => control(field, itemSource(item, field, tools), tools));
    const out = button("Take this line out", () => {
      typeIntoItem(tools.page, item, null, { on: false }, tools.now());
      draw();
      tools.typed();
    }, { class: "quiet" });
    const root = el("div", { class: "line", role: "group", "aria-label": `Line ${index + 1}` }, controls.map((one) => one.root), out);
    return { root, refresh: (sight) => controls.forEach((one) => one.refresh(sight)) };
  });
}

function addLine(tools) {
  const item = tools.step.repeated.make(`new-${tools.newId()}`);
  typeIntoItem(tools.page, item, null, { on: true }, tools.now());
  const tax = tools.taxPct();
  if (tax !== undefined) itemSource(item, item.fields.find((one) => one.path[0] === "tax_pct"), tools).put({ text: String(tax) });
}

export function stepForm(tools, earlier) {
  const items = itemsOf(tools.step, tools.rulebook).map((item) => ({ ...entryOf(item, tools), list: item.list }));
  const all = fieldsOf(tools);
  const held = all.filter((part) => part.field.held === true);
  const priced = all.filter((part) => part.field.priced === true);
  const noted = all.filter((part) => part.field.noted === true);
  const rest = all.filter((part) => ![...held, ...priced, ...noted].includes(part));
  const bill = priced.length === 0 ? [] : [priceBlock({ lines: (draw) => chargeLines(tools, draw), add: () => addLine(tools), fields: priced, tools })];
  const parts = [...(held.length > 0 ? [heldBlock(held, tools)] : []), ...rest, ...items, ...bill, ...(noted.length > 0 ? [notedBlock(noted, tools)] : [])];
  headed(items, LIST_HEADINGS, parts);
  const same = earlier === undefined ? null : button("Held as before the work", () => sameAsBefore(tools, earlier), { class: "quiet" });
  const root = el("div", { class: "form" }, same, parts.map((part) => part.root));
  return { root, refresh: (sight) => parts.forEach((part) => part.refresh(sight)) };
}
