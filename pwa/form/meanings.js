// What a reading means, in words, from what the judgement derived: one line under a field, rows of a table.
// No rule of the trade stands here: values, uncertainties and unknowns come from the kernel.

import { inUnit, valueOf } from "../visit/number_input.js";
import { nameOf } from "../visit/visit_model.js";
import { beyond, cleaner_of } from "../kernel.js";
import { listed, number } from "../language/formats.js";
import { say, term, unitWord } from "../language/words.js";
import { beside, sentences } from "./words.js";

/** @param {number} ml */
const millilitres = (ml) => say("phone.mix.ml", { value: number(ml, 0) });

/**
 * A mix for the work it was made for: how much of each, how much per pass, what the judgement says of it.
 *
 * @param {Item} item
 * @param {Sight} sight
 * @param {Rulebook} rulebook
 */
export function cleanerWords(item, sight, rulebook) {
  const work = (sight.visit.work ?? []).findLast((one) => one.code === item.base.code);
  const mix = work?.cleaner === undefined ? null : cleaner_of({ ...sight.visit, work: [work] }, rulebook);
  if (mix === null) return say("phone.mix.none");
  const parts = number(mix.water_parts, mix.water_parts === Math.floor(mix.water_parts) ? 0 : 1);
  const { cleaner_ml: cleaner, water_ml: water, per_pass_ml: pass } = mix;
  const findings = mix.findings.map((code) => say(`visit.cleaner_finding.${code}`));
  return sentences([
    say("phone.mix.parts", { parts }),
    cleaner !== null && water !== null
      && say("phone.mix.amounts", { cleaner: millilitres(cleaner), water: millilitres(water) }),
    pass !== null && say("phone.mix.passes", { amount: millilitres(pass) }),
    ...(findings.length > 0 ? findings : [say("phone.mix.governs")]),
  ]);
}

/**
 * What a cylinder says moved [g], below zero when it changed the wrong way; null without both masses.
 *
 * @param {Tree} move
 * @returns {number | null}
 */
export function weighedOf({ kind, cylinder_before_g: before, cylinder_after_g: after }) {
  if (typeof before !== "number" || typeof after !== "number") return null;
  return kind === "charged" ? before - after : after - before;
}

/** @param {Item} item @param {Sight} sight @param {Rulebook} rulebook */
export function weighedWords(item, sight, rulebook) {
  const move = (sight.visit.refrigerant_moves ?? []).findLast((one) => one.kind === item.base.kind);
  const weighed = move === undefined ? null : weighedOf(move);
  if (move === undefined || weighed === null) return say("phone.cylinder.none");
  const { kind, grams } = move;
  if (weighed < 0) return say(kind === "charged" ? "phone.cylinder.heavier" : "phone.cylinder.lighter");
  const { mass } = sight.speak;
  const differs = typeof grams === "number" && Math.abs(grams - weighed) > rulebook.checks_at_rest.cylinder.apart_g;
  if (differs) return say("phone.cylinder.differs", { weighed: mass(weighed), entered: mass(grams) });
  return say("phone.cylinder.agrees", { weighed: mass(weighed) });
}

/** @type {Record<string, string>} */
const DIFFERENCE_UNIT = { c: "c", f: "f" };

/**
 * Writes quantities out in the units a person reads.
 *
 * @param {Record<string, string>} units
 * @param {Rulebook} rulebook
 */
export function speaker(units, rulebook) {
  const unitOf = { pressure: units.pressure, temperature: units.temperature, altitude: units.altitude };
  /** @param {string} quantity @param {string} unit @param {number} value */
  const write = (quantity, unit, value) =>
    `${inUnit(quantity, unit, value, rulebook)}\u00a0${unitWord(quantity, unit)}`;
  return {
    /** @param {number} kpa */
    pressure: (kpa) => write("pressure", unitOf.pressure, kpa),
    /** @param {number} c */
    temperature: (c) => write("temperature", unitOf.temperature, c),
    /** @param {number} k */
    difference: (k) => write("temperature_difference", DIFFERENCE_UNIT[unitOf.temperature], k),
    /** @param {number} m */
    altitude: (m) => write("altitude", unitOf.altitude, m),
    /** @param {number} g */
    mass: (g) => write("mass", units.mass, g),
    /** The number alone. @param {string} quantity @param {number} value */
    bare: (quantity, value) => bareIn(quantity, unitOf, value, rulebook),
    /** @param {string} quantity */
    labelFor: (quantity) => labelIn(quantity, unitOf),
  };
}

/** @param {string} quantity @param {Record<string, string>} unitOf */
function unitIn(quantity, unitOf) {
  if (quantity === "temperature_difference") return DIFFERENCE_UNIT[unitOf.temperature];
  return unitOf[quantity];
}

/** @param {string} quantity @param {Record<string, string>} unitOf @param {number} value @param {Rulebook} rulebook */
function bareIn(quantity, unitOf, value, rulebook) {
  if (quantity === "ratio") return number(value, 1);
  if (quantity === "percent") return number(value, 0);
  return inUnit(quantity, unitIn(quantity, unitOf), value, rulebook);
}

/** @param {string} quantity @param {Record<string, string>} unitOf */
function labelIn(quantity, unitOf) {
  if (quantity === "ratio") return "";
  if (quantity === "percent") return "%";
  return unitWord(quantity, unitIn(quantity, unitOf));
}

/**
 * Evaporating depends on the site, which is named with it.
 *
 * @param {string} value
 * @param {Speaker} speak
 * @param {Visit} visit
 */
function evaporatingWords(value, speak, { place = {} }) {
  if (place.station_pressure_kpa !== undefined) return say("phone.means.evaporating_measured", { value });
  if (place.altitude_m === undefined) return say("phone.means.evaporating_unplaced", { value });
  return say("phone.means.evaporating_at", { value, altitude: speak.altitude(place.altitude_m) });
}

/** A derived difference in words, under its own code. @param {string} code @returns {Meaning} */
const difference = (code) => (derived, speak) =>
  [derived[code] && say(`phone.means.${code}`, { value: speak.difference(derived[code].value) })];

/** @typedef {(derived: Tree, speak: Speaker, visit: Visit) => (string | undefined)[]} Meaning of a reading, in facts */

/** @type {Record<string, Meaning>} */
const MEANINGS = {
  low: ({ low_saturation_c: low }, speak, visit) =>
    [low && evaporatingWords(speak.temperature(low.value), speak, visit)],
  high: (derived, speak, visit) => {
    const { high_saturation_c: high, pressure_ratio: ratio } = derived;
    return [
      high && say("phone.means.condensing", { value: speak.temperature(high.value) }),
      ...difference("condenser_split_k")(derived, speak, visit),
      ratio && say("phone.means.pressure_ratio", { value: number(ratio.value, 1) }),
    ];
  },
  vent: difference("vent_over_evaporating_k"),
  return_air: difference("vent_drop_k"),
  suction_line: difference("superheat_k"),
  liquid_line: difference("subcooling_k"),
  discharge_line: difference("discharge_over_condensing_k"),
};

/**
 * An odd value is questioned at its field, never refused: what the judgement found, and what would make it usual.
 *
 * @param {Field} field
 * @param {JudgedTest} judged
 */
function questions(field, judged) {
  const path = field.path.join(".");
  return judged.faults.filter((fault) => fault.fields.includes(path)).map((fault) => {
    const values = { fault: term("fault", fault.code).toLowerCase() };
    const unit = fault.values?.as;
    if (unit === undefined || field.quantity === undefined) return say("phone.means.question", values);
    return say("phone.means.question_unit", { ...values, unit: unitWord(field.quantity, String(unit)) });
  });
}

/**
 * A figure that no test holds and that is hardly right: negative minutes, a year to come.
 *
 * @param {Field} field
 * @param {Entry} entry
 * @param {Rulebook} rulebook
 */
function oddWords(field, entry, rulebook) {
  const { value = null } = valueOf(field, entry, rulebook);
  if (typeof value !== "number" || !beyond(/** @type {any} */ (field), value)) return "";
  return say("phone.means.question", { fault: term("fault", "implausible") });
}

/**
 * The line under a field of a test: what the reading says, or what it would settle while it is empty.
 *
 * @param {Field} field
 * @param {Entry} entry
 * @param {JudgedTest | undefined} judged
 * @param {{speak: Speaker, visit: Visit, rulebook: Rulebook}} about
 */
export function meaningOf(field, entry, judged, { speak, visit, rulebook }) {
  if (field.outside === true) return oddWords(field, entry, rulebook);
  if (judged === undefined) return "";
  const means = (MEANINGS[field.meaning ?? ""]?.(judged.derived, speak, visit) ?? []).filter((part) => part);
  if (entry.text !== "") means.push(...questions(field, judged));
  if (means.length > 0 || entry.text !== "") return beside(means);
  const lacking = judged.unknown.filter((unknown) => (unknown.needs ?? []).includes(nameOf(field)));
  const settles = lacking.map((unknown) => term("derived", unknown.what));
  return settles.length === 0 ? "" : say("phone.means.settles", { what: listed(settles.slice(0, 2)) });
}

/**
 * The rows that stand side by side, before and after.
 *
 * @type {Row[]}
 */
export const ROWS = [
  { code: "ambient", quantity: "temperature", from: (test) => test.conditions?.ambient_c },
  { code: "high_side", side: "high", quantity: "pressure", from: (test) => test.readings?.high_kpa_g },
  { code: "low_side", side: "low", quantity: "pressure", from: (test) => test.readings?.low_kpa_g },
  { code: "condensing", quantity: "temperature", derived: "high_saturation_c" },
  { code: "condenser_split", quantity: "temperature_difference", derived: "condenser_split_k" },
  { code: "evaporating", quantity: "temperature", derived: "low_saturation_c" },
  { code: "pressure_ratio", quantity: "ratio", derived: "pressure_ratio" },
  { code: "superheat", quantity: "temperature_difference", derived: "superheat_k" },
  { code: "subcooling", quantity: "temperature_difference", derived: "subcooling_k" },
  { code: "vent", quantity: "temperature", from: (test) => test.readings?.vent_c },
];

/**
 * @param {Row} row
 * @param {Test | undefined} test
 * @param {JudgedTest | undefined} judged
 * @returns {Cell | undefined}
 */
export function cellOf(row, test, judged) {
  if (row.derived !== undefined) return judged?.derived?.[row.derived];
  const value = row.from?.(test ?? {});
  return value === undefined ? undefined : { value };
}

/**
 * How a value changed, rounded as the cells are: the way, and by how much in its unit.
 *
 * @param {Row} row
 * @param {Cell} before
 * @param {Cell} after
 * @param {Speaker} speak
 * @returns {{way: "same" | "rose" | "fell", amount: string}}
 */
export function changeOf(row, before, after, speak) {
  /** @param {Cell} cell */
  const text = (cell) => speak.bare(row.quantity, cell.value);
  const quantity = row.quantity === "temperature" ? "temperature_difference" : row.quantity;
  const figure = speak.bare(quantity, Math.abs(after.value - before.value));
  const amount = [figure, speak.labelFor(quantity)].filter((part) => part).join("\u00a0");
  if (text(before) === text(after)) return { way: "same", amount };
  return { way: after.value > before.value ? "rose" : "fell", amount };
}

/**
 * ± of a derived value in the unit it is read in; uncertainties are differences, so only the scale applies.
 *
 * @param {Row} row
 * @param {Cell | undefined} cell
 * @param {Speaker} speak
 */
export function uncertaintyWords(row, cell, speak) {
  if (cell?.u === undefined || cell.u === null) return null;
  const quantity = row.quantity === "temperature" ? "temperature_difference" : row.quantity;
  return `\u00b1\u00a0${speak.bare(quantity, 2 * cell.u)}`;
}
