// One step of a visit as a form: its fields, its list entries, in order; which of them are asked at the moment.
// DOM only: values come from and go to the page through `tools`, which also says what a reading means.

import { clockName } from "../visit/clock_places.js";
import { testsTaken } from "../visit/leading.js";
import { valueOf } from "../visit/number_input.js";
import { FIRST } from "../visit/quick_step.js";
import { minutesOf } from "../visit/timers.js";
import { entries, fieldNamed } from "../visit/steps.js";
import { entryFor, itemsOf, nameOf, typeInto, valueAt } from "../visit/visit_model.js";
import { clock_limit_min, model_year, vin_state } from "../kernel.js";
import { say } from "../language/words.js";
import { barcodeKey, canReadBarcodes } from "./barcode.js";
import { clockRow, fill, tapsBlock } from "./timers.js";
import { el, replace } from "./elements.js";
import { chartField } from "./chart.js";
import { conditionsBlock } from "./conditions.js";
import { control, headingOf } from "./fields.js";
import { moreBlock, notedBlock } from "./folds.js";
import { addLine, chargeLines, entryOf, restOk } from "./items.js";
import { offersRow } from "./offers.js";
import { stripUnder } from "./numbers.js";
import { priceBlock } from "./price.js";
import { named } from "./reach.js";
import { aboutOf } from "./result.js";
import { sensorKey } from "./sensor.js";

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
  const put = ({ text, unit = tools.unitFor(field), sure }) =>
    typeInto(page, step, field, { text, unit, sure }, tools.freshTest());
  const before = /** @type {Step} */ ({ ...step, role: "before" });
  const earlier = () => entryFor(page, before, field, tools.unitFor(field), rulebook);
  return {
    earlier: step.role === "after" && field.first === true ? earlier : undefined,
    get: () => entryFor(page, step, field, tools.unitFor(field), rulebook),
    put,
    set: (entry) => {
      put(entry);
      if (field.check === "vin") fillYear(entry.text, tools);
      if (field.sets_clock === true) followTyped(field, entry, tools);
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

/**
 * What a person typed about how long ago a clock began also sets the clock; one that has then ended doesn't ring.
 *
 * @param {Field} field
 * @param {Entry} entry
 * @param {Tools} tools
 */
function followTyped({ clock, ...field }, entry, { step, clocks, rulebook }) {
  const { value } = valueOf(field, entry, rulebook);
  if (clock === undefined || typeof value !== "number" || value < 0) return;
  const name = clockName(clock, step.role);
  clocks.startAgo(name, value);
  if (value >= (clock_limit_min(name, rulebook) ?? Infinity)) clocks.answer(name);
}

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
  const name = field.path.join(".");
  if (name === "paid.method") source.set = stamped(source.set, tools);
  const part = withYardstick(control(field, source, tools), name, tools);
  part.root.append(...[sensorKey(field, source, tools)].filter((key) => key !== null));
  if (field.clock !== undefined) {
    const { label, clock } = field;
    return { ...part, root: el("div", null, part.root, clockRow({ label, clock }, clockName(clock, role), tools)) };
  }
  return field.offers === undefined ? part : withOffers(part, field, tools);
}

/**
 * A reading with its place against the yardsticks. The room for that is kept, so that no row moves as it comes; where
 * the refrigerant is not judged there is none.
 *
 * @template {Part} P
 * @param {P} part
 * @param {string} name
 * @param {Tools} tools
 * @returns {P}
 */
function withYardstick(part, name, { page, step, rulebook }) {
  const of = FIRST.find(({ path }) => path === name)?.strip;
  const inside = page.draft.fields["vehicle.refrigerant"]?.text ?? page.visit.vehicle?.refrigerant ?? "";
  if (of === undefined || !((rulebook.refrigerants.refrigerants[inside]?.trust ?? 0) > 0)) return part;
  const line = part.root.querySelector(".meaning");
  const yard = el("div", { class: "yard" });
  line?.replaceWith(yard);
  /** @param {Sight} sight */
  const refresh = (sight) => {
    const tests = testsTaken(page, sight).filter(({ role }) => role === "before" || role === step.role);
    const isBegun = tests.at(-1)?.role === step.role;
    const { drawing, words } = stripUnder(of, isBegun ? tests : [], aboutOf(rulebook, sight.speak));
    // What cannot be right is questioned, and not compared.
    const isOdd = sight.judged?.faults.some(({ fields }) => fields.includes(name));
    replace(yard, isOdd ? null : drawing, line);
    part.refresh({ ...sight, meaning: (field, entry) => (isOdd ? "" : words) || sight.meaning(field, entry) });
  };
  return { ...part, refresh };
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
 * The list entries of the step; after those to look at, the key for all that are unanswered.
 *
 * @param {Tools} tools
 * @returns {(Part & {list: string})[]}
 */
function itemParts(tools) {
  const items = itemsOf(tools.step, tools.rulebook);
  /** @type {import("./deeds.js").Waiting} */
  const waiting = new Map();
  /** @type {(Part & {list: string})[]} */
  const parts = items.map((item) => ({ ...entryOf(item, tools, waiting), list: item.group ?? item.list }));
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
 * The conditions of a test with where each is written.
 *
 * @param {FormPart[]} parts
 * @param {Tools} tools
 */
const conditionsOf = (parts, tools) => parts.flatMap((part) => {
  const { field } = part;
  if (field.path === undefined) return [];
  return [{ field, part, source: fieldSource(field, tools), asked: () => isAsked(field, tools.step.fields, tools) }];
});

/**
 * The parts in the order of the form: the readings that come first, the conditions they were taken in, the rest, and
 * what is folded. `levels`, whether the test has settled, stands before what is folded.
 *
 * @param {FormPart[]} all
 * @param {Tools} tools
 * @param {Around} around
 * @returns {Part[]}
 */
function fieldParts(all, tools, { offered, levels, photos }) {
  /** @param {"first" | "held" | "folded" | "noted" | "priced"} key */
  const those = (key) => all.filter(({ field }) => field[key] === true);
  const [first, held, folded, noted, priced] = [
    those("first"), those("held"), those("folded"), those("noted"), those("priced"),
  ];
  const rest = all.filter((part) => ![first, held, folded, noted, priced].some((some) => some.includes(part)));
  /** @param {Field} field */
  const textOf = (field) => fieldSource(field, tools).get();
  const parts = [...first, held.length > 0 && conditionsBlock(conditionsOf(held, tools), offered, tools), ...rest];
  if (levels !== null) parts.push(levels);
  if (folded.length > 0) parts.push(moreBlock(folded, photos, textOf, tools.rulebook));
  else parts.push(...photos);
  if (noted.length > 0) parts.push(notedBlock(noted, textOf));
  return parts.filter((part) => part !== false);
}

/** @typedef {import("./conditions.js").Offered} Offered */
/** @typedef {{offered: Offered | null, levels: Part | null, photos: Part[]}} Around what else a step's form shows */

/**
 * @param {Tools} tools
 * @param {Around} around
 * @returns {Part}
 */
export function stepForm(tools, around) {
  const items = itemParts(tools);
  const all = fieldsOf(tools);
  const priced = all.filter((part) => part.field.priced === true);
  const { photos } = around;
  const parts = fieldParts(all, tools, { ...around, photos: items.length > 0 ? [] : photos });
  parts.push(...items);
  if (items.length > 0) parts.push(...photos);
  if (priced.length > 0) parts.push(billBlock(priced, tools));
  headed(items, parts);
  const root = el("div", { class: "form" }, parts.map((part) => part.root));
  return { root, refresh: (sight) => parts.forEach((part) => part.refresh(sight)) };
}
