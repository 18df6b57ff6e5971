// One step of a visit as a form: its fields, its list entries, in order; which of them are asked at the moment.
// DOM only: values come from and go to the page through `tools`, which also says what a reading means.

import { minutesOf } from "../visit/timers.js";
import { entryFor, itemsOf, typeInto, valueAt } from "../visit/visit_model.js";
import { model_year, vin_state } from "../kernel.js";
import { barcodeKey, canReadBarcodes } from "./barcode.js";
import { clockRow, fill, tapsBlock } from "./timers.js";
import { button, el } from "./elements.js";
import { control, headingOf } from "./fields.js";
import { addLine, chargeLines, entryOf, restOk } from "./items.js";
import { offersRow } from "./offers.js";
import { priceBlock } from "./price.js";
import { codeWords } from "./words.js";

// Where a field of the visit, or of the step's test, is read and written.
function fieldSource(field, tools) {
  const { page, step, rulebook } = tools;
  const put = (entry) => typeInto(page, step, field, { text: entry.text, unit: entry.unit ?? tools.unitFor(field) }, tools.freshTest());
  return {
    get: () => entryFor(page, step, field, tools.unitFor(field), rulebook),
    put,
    set: (entry) => {
      put(entry);
      if (field.check === "vin") fillYear(entry.text, tools);
      if (TAKEN.includes(field.path.join("."))) fillFromClocks(tools);
      tools.typed();
    },
  };
}

// A North American number says its model year; what a person wrote as the year stays.
function fillYear(text, tools) {
  const year = vin_state(text) === "right" ? model_year(text) : null;
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

// A field with `when` is asked only once the field it leans on says so: one of the listed codes, or anything at all.
function isAsked(field, fields, tools) {
  if (field.when === undefined) return true;
  const [path, codes] = field.when;
  const other = fields.find((one) => one.path?.join(".") === path);
  const text = other === undefined ? (valueAt(tools.page.visit, path.split(".")) ?? "") : fieldSource(other, tools).get().text;
  return codes === null ? text !== "" : codes.includes(text);
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
  const asked = fields.filter((field) => isAsked(field, tools.step.fields, tools));
  return folded("Held during the test", parts, () => told().map(words), told().length < asked.length / 2);
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

const LIST_HEADINGS = { consent: "Agreed", checks: "Looked at", running: "While it runs", work: "Done", refrigerant_moves: "Refrigerant, oil and tests" };

// Sets a heading before the first entry of each list that has one.
function headed(items, headings, parts) {
  for (const [list, words] of Object.entries(headings)) {
    const first = items.find((one) => one.list === list);
    if (first !== undefined) parts.splice(parts.indexOf(first), 0, headingOf({ label: words }));
  }
}

// `levels` is the block that tells whether a test has levelled: it stands right under the readings that it looks at.
export function stepForm(tools, earlier, levels) {
  const asked = itemsOf(tools.step, tools.rulebook);
  const items = asked.map((item) => ({ ...entryOf(item, tools), list: item.group ?? item.list }));
  const checks = asked.filter((item) => item.group === "checks");
  if (checks.length > 0) items.splice(items.findLastIndex((item) => item.list === "checks") + 1, 0, restOk(checks, tools));
  const all = fieldsOf(tools);
  const held = all.filter((part) => part.field.held === true);
  const priced = all.filter((part) => part.field.priced === true);
  const noted = all.filter((part) => part.field.noted === true);
  const rest = all.filter((part) => ![...held, ...priced, ...noted].includes(part));
  if (levels) rest.splice(rest.findIndex(({ field }) => field.path?.at(-1) === "return_air_humidity_pct") + 1, 0, levels);
  const bill = priced.length === 0 ? [] : [priceBlock({ lines: (draw) => chargeLines(tools, draw), add: () => addLine(tools), fields: priced, tools })];
  const parts = [...(held.length > 0 ? [heldBlock(held, tools)] : []), ...rest, ...items, ...bill, ...(noted.length > 0 ? [notedBlock(noted, tools)] : [])];
  headed(items, LIST_HEADINGS, parts);
  const words = tools.step.role === "after" ? "Held as before the work" : "Held as in the last visit";
  const same = earlier === undefined ? null : button(words, () => sameAsBefore(tools, earlier), { class: "quiet" });
  const root = el("div", { class: "form" }, same, parts.map((part) => part.root));
  return { root, refresh: (sight) => parts.forEach((part) => part.refresh(sight)) };
}
