// One step of a visit as a form: its fields, its list entries, in order; which of them are asked at the moment.
// DOM only: values come from and go to the page through `tools`, which also says what a reading means.

import { minutesOf } from "../visit/timers.js";
import { entries, fieldNamed } from "../visit/steps.js";
import { entryFor, itemsOf, nameOf, typeInto, valueAt } from "../visit/visit_model.js";
import { model_year, vin_state } from "../kernel.js";
import { say, term } from "../language/words.js";
import { barcodeKey, canReadBarcodes } from "./barcode.js";
import { clockRow, fill, tapsBlock } from "./timers.js";
import { button, el, foldedParts } from "./elements.js";
import { chartField } from "./chart.js";
import { control, headingOf } from "./fields.js";
import { withHelp } from "./help.js";
import { addLine, chargeLines, entryOf, restOk } from "./items.js";
import { offersRow } from "./offers.js";
import { priceBlock } from "./price.js";
import { named } from "./reach.js";

/**
 * Where a field of the visit, or of the step's test, is read and written.
 *
 * @param {Field} field
 * @param {Tools} tools
 * @returns {StepSource}
 */
function fieldSource(field, tools) {
  const { page, step, rulebook } = tools;
  /** @param {Entry} entry */
  const put = ({ text, unit = tools.unitFor(field) }) => typeInto(page, step, field, { text, unit }, tools.freshTest());
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

/** The same for the field of that name. @param {string} name @param {Tools} tools */
const namedSource = (name, tools) =>
  fieldSource(/** @type {Field} */ (fieldNamed(tools.step.fields, name)), tools);

/**
 * A North American number says its model year; what a person wrote as the year stays.
 *
 * @param {string} text
 * @param {Tools} tools
 */
function fillYear(text, tools) {
  const year = vin_state(text) === "right" ? model_year(text) : null;
  if (year !== null) fill(namedSource("vehicle.year", tools), "vehicle.year", String(year), tools);
}

// The readings with which a test is taken: the minutes on the clocks are theirs.
const TAKEN = ["readings.low_kpa_g", "readings.high_kpa_g", "readings.vent_c"];

/** @param {FieldClock} clock @param {string | undefined} role */
const clockName = ({ name }, role) => (name === "running" ? `running.${role}` : name);

/**
 * Writes the running minutes into the fields that ask for them; what a person wrote there stays.
 *
 * @param {Tools} tools
 * @param {boolean} [again]
 */
export function fillFromClocks(tools, again = false) {
  const { step, clocks } = tools;
  for (const field of entries(step.fields)) {
    if (field.clock === undefined) continue;
    const minutes = minutesOf(clocks.state(), clockName(field.clock, step.role), clocks.now());
    if (typeof minutes !== "number") continue;
    fill(fieldSource(field, tools), `${step.role}.${nameOf(field)}`, String(minutes), tools, again);
  }
}

/**
 * A field with `when` is asked only once the field it leans on says so: one of the listed codes, or anything at all.
 *
 * @param {StepPart} field
 * @param {StepPart[]} fields
 * @param {Tools} tools
 */
function isAsked(field, fields, tools) {
  if (field.when === undefined) return true;
  const [path, codes] = field.when;
  const other = fieldNamed(fields, path);
  const value = () => valueAt(tools.page.visit, path.split(".")) ?? "";
  const text = other === undefined ? value() : fieldSource(other, tools).get().text;
  return codes === null ? text !== "" : codes.includes(text);
}

/** @param {StepPart} field @param {Tools} tools @returns {Part} */
function fieldControl(field, tools) {
  const { role = "" } = tools.step;
  if (field.path === undefined) {
    if (field.kind === "heading") return headingOf(field.label);
    const sources = { on: namedSource("readings.on_s", tools), off: namedSource("readings.off_s", tools) };
    return tapsBlock(role, sources, tools);
  }
  const source = fieldSource(field, tools);
  if (field.kind === "chart") return chartField(field, source, tools);
  if (field.path.join(".") === "paid.method") source.set = stamped(source.set, tools);
  const part = control(field, source, tools);
  if (field.clock !== undefined) {
    const { label, clock } = field;
    return { ...part, root: el("div", null, part.root, clockRow({ label, clock }, clockName(clock, role), tools)) };
  }
  return field.offers === undefined ? part : withOffers(part, field, tools);
}

/**
 * A field with offers under it, and for a VIN the key that reads its barcode.
 *
 * @param {Control} part
 * @param {Field} field
 * @param {Tools} tools
 * @returns {Part}
 */
function withOffers(part, field, tools) {
  const source = fieldSource(field, tools);
  const offers = offersRow(field, tools, (one) => fieldSource(one, tools));
  /** @param {string | null} vin */
  const take = (vin) => {
    if (vin === null) tools.tell(say("phone.vin.unread"));
    else source.set({ text: vin });
  };
  const key = field.check === "vin" && canReadBarcodes() ? barcodeKey(take) : null;
  /** @param {Sight} sight */
  const refresh = (sight) => [part, offers].forEach((one) => one.refresh(sight));
  return { ...part, root: el("div", null, part.root, key, offers.root), refresh };
}

/**
 * How it was paid carries the instant it was said; taken back, both go.
 *
 * @param {StepSource["set"]} set
 * @param {Tools} tools
 * @returns {StepSource["set"]}
 */
function stamped(set, tools) {
  const at = namedSource("paid.at", tools);
  return (entry) => {
    at.put({ text: entry.text === "" ? "" : tools.now() });
    set(entry);
  };
}

/** @param {Tools} tools @returns {FormPart[]} */
function fieldsOf(tools) {
  const { step } = tools;
  return step.fields.filter((field) => field.hidden !== true).map((field) => {
    const part = fieldControl(field, tools);
    if (field.path !== undefined) named(part.root, field.path.join("."));
    return {
      root: part.root,
      field,
      refresh: (/** @type {Sight} */ sight) => {
        part.root.hidden = !isAsked(field, step.fields, tools);
        part.refresh(sight);
      },
    };
  });
}

/**
 * What is held during a test, out of the way once it is written down, so that the readings come first.
 *
 * @param {FormPart[]} parts
 * @param {Tools} tools
 */
function heldBlock(parts, tools) {
  const fields = entries(tools.step.fields).filter((field) => field.held === true);
  /** @param {Field} field */
  const textOf = (field) => fieldSource(field, tools).get().text;
  const filled = () => fields.filter((field) => textOf(field) !== "");
  /** @param {Field} field */
  const words = (field) => {
    const value = term(field.vocabulary ?? "", textOf(field));
    return say("phone.form.condition", { label: field.label.toLowerCase(), value });
  };
  const questions = fields.filter((field) => isAsked(field, tools.step.fields, tools));
  const isOpen = filled().length < questions.length / 2;
  return foldedParts(say("phone.form.conditions"), parts, () => filled().map(words), isOpen);
}

/**
 * What was seen and heard, and the note: many words, asked for seldom.
 *
 * @param {FormPart[]} parts
 * @param {Tools} tools
 */
function notedBlock(parts, tools) {
  /** @param {string} code */
  const codeName = (code) => term("observed", code);
  const words = () => entries(parts.map(({ field }) => field)).flatMap((field) => {
    const { text } = fieldSource(field, tools).get();
    if (text === "") return [];
    if (field.kind !== "codes") return [say("phone.form.remark")];
    return text.split(" ").filter((code) => code !== "").map(codeName);
  });
  return foldedParts(say("phone.form.remarks"), parts, words, false);
}

/**
 * Takes the settings of the earlier test over, for the fields that mean to be held alike.
 *
 * @param {Tools} tools
 * @param {Test} earlier
 */
function sameAsBefore(tools, earlier) {
  for (const field of entries(tools.step.fields).filter((one) => one.carried === true)) {
    const source = fieldSource(field, tools);
    const value = valueAt(earlier, field.path);
    if (value === undefined || value === null || source.get().text !== "") continue;
    const flag = value === true ? "yes" : "no";
    source.set({ text: field.kind === "flag" ? flag : String(value) });
  }
  tools.typed();
}

const LISTS_HEADED = ["consent", "checks", "running", "work", "refrigerant_moves"];

/**
 * Sets a heading before the first entry of each list that has one.
 *
 * @param {(Part & {list: string})[]} items
 * @param {Part[]} parts
 */
function headed(items, parts) {
  for (const list of LISTS_HEADED) {
    const first = items.find((one) => one.list === list);
    if (first !== undefined) parts.splice(parts.indexOf(first), 0, headingOf(say(`phone.form.${list}`)));
  }
}

/**
 * The list entries of the step; after those to look at, the key for all that were not said.
 *
 * @param {Tools} tools
 * @returns {(Part & {list: string})[]}
 */
function itemParts(tools) {
  const items = itemsOf(tools.step, tools.rulebook);
  /** @type {(Part & {list: string})[]} */
  const parts = items.map((item) => ({ ...entryOf(item, tools), list: item.group ?? item.list }));
  const checks = items.filter((item) => item.group === "checks");
  if (checks.length === 0) return parts;
  const last = parts.findLastIndex((part) => part.list === "checks");
  return parts.toSpliced(last + 1, 0, { ...restOk(checks, tools), list: "" });
}

/** @param {FormPart[]} fields @param {Tools} tools */
function billBlock(fields, tools) {
  const part = priceBlock({ lines: (draw) => chargeLines(tools, draw), add: () => addLine(tools), fields, tools });
  named(part.root, "price");
  return part;
}

/**
 * `levels` is the block that tells whether a test has levelled: it stands right under the readings that it looks at.
 *
 * @param {Tools} tools
 * @param {Test | undefined} earlier
 * @param {Part | null} levels
 * @returns {Part}
 */
export function stepForm(tools, earlier, levels) {
  const items = itemParts(tools);
  const all = fieldsOf(tools);
  const settings = all.filter((part) => part.field.held === true);
  const priced = all.filter((part) => part.field.priced === true);
  const remarks = all.filter((part) => part.field.noted === true);
  /** @type {Part[]} */
  const parts = all.filter((part) => ![...settings, ...priced, ...remarks].includes(part));
  const humidity = all.find(({ field }) => field.path?.at(-1) === "return_air_humidity_pct");
  if (levels) parts.splice(humidity === undefined ? 0 : parts.indexOf(humidity) + 1, 0, levels);
  if (settings.length > 0) parts.unshift(heldBlock(settings, tools));
  parts.push(...items);
  if (priced.length > 0) parts.push(billBlock(priced, tools));
  if (remarks.length > 0) parts.push(notedBlock(remarks, tools));
  headed(items, parts);
  const words = say(tools.step.role === "after" ? "phone.form.same_before" : "phone.form.same_last");
  const same = earlier === undefined ? null : button(words, () => sameAsBefore(tools, earlier), { class: "quiet" });
  const root = el("div", { class: "form" }, withHelp(same, "same_as_before"), parts.map((part) => part.root));
  return { root, refresh: (sight) => parts.forEach((part) => part.refresh(sight)) };
}
