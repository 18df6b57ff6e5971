// What a reading means, in words, from what the judgement derived: one line under a field, rows of a table.
// No rule of the trade stands here: values, uncertainties and unknowns come from the kernel.

import { inUnit, labelOf, shown } from "../visit/number_input.js";
import { nameOf } from "../visit/visit_model.js";
import { cleaner_of } from "../kernel.js";
import { codeWords } from "./words.js";

/** @param {number} ml */
const millilitres = (ml) => `${shown(ml, 0)} ml`;

/**
 * What a mix comes to, for the work it was made for: how much of each, how much a pass, what the judgement says of it.
 *
 * @param {Item} item
 * @param {Sight} sight
 * @param {Rulebook} rulebook
 */
export function cleanerWords(item, sight, rulebook) {
  const work = (sight.visit.work ?? []).findLast((one) => one.code === item.base.code);
  const mix = work?.cleaner === undefined ? null : cleaner_of({ ...sight.visit, work: [work] }, rulebook);
  if (mix === null) return "Parts of cleaner and of water give the mix. The label governs.";
  const parts = shown(mix.water_parts, mix.water_parts === Math.floor(mix.water_parts) ? 0 : 1);
  const { cleaner_ml: cleaner, water_ml: water } = mix;
  const each = cleaner === null || water === null ? "" : `: ${millilitres(cleaner)} and ${millilitres(water)}`;
  const pass = mix.per_pass_ml === null ? "" : `, ${millilitres(mix.per_pass_ml)} a pass`;
  const findings = mix.findings.map((code) => rulebook.words.visit.cleaner_finding[code]);
  const closing = findings.length > 0 ? findings : ["The label governs."];
  return [`1 part of cleaner to ${parts} of water${each}${pass}.`, ...closing].join(" ");
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
  if (move === undefined || weighed === null) return "The cylinder before and after gives the mass.";
  const { kind, grams } = move;
  const became = kind === "charged" ? "heavier" : "lighter";
  if (weighed < 0) return `The cylinder became ${became}. Are before and after swapped?`;
  const apart = typeof grams === "number" && Math.abs(grams - weighed) > rulebook.checks_at_rest.cylinder.apart_g;
  const words = `The cylinder says ${sight.speak.mass(weighed)}`;
  return apart ? `${words}, the mass says ${sight.speak.mass(grams)}. Which one holds?` : `${words}.`;
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
  const say = (quantity, unit, value) =>
    `${inUnit(quantity, unit, value, rulebook)} ${labelOf(quantity, unit, rulebook)}`;
  return {
    /** @param {number} kpa */
    pressure: (kpa) => say("pressure", unitOf.pressure, kpa),
    /** @param {number} c */
    temperature: (c) => say("temperature", unitOf.temperature, c),
    /** @param {number} k */
    difference: (k) => say("temperature_difference", DIFFERENCE_UNIT[unitOf.temperature], k),
    /** @param {number} m */
    altitude: (m) => say("altitude", unitOf.altitude, m),
    /** @param {number} g */
    mass: (g) => say("mass", units.mass, g),
    /** The number alone. @param {string} quantity @param {number} value */
    bare: (quantity, value) => bareIn(quantity, unitOf, value, rulebook),
    /** @param {string} quantity */
    labelFor: (quantity) => labelIn(quantity, unitOf, rulebook),
  };
}

/** @param {string} quantity @param {Record<string, string>} unitOf */
function unitIn(quantity, unitOf) {
  if (quantity === "temperature_difference") return DIFFERENCE_UNIT[unitOf.temperature];
  return unitOf[quantity];
}

/** @param {string} quantity @param {Record<string, string>} unitOf @param {number} value @param {Rulebook} rulebook */
function bareIn(quantity, unitOf, value, rulebook) {
  if (quantity === "ratio") return shown(value, 1);
  if (quantity === "percent") return shown(value, 0);
  return inUnit(quantity, unitIn(quantity, unitOf), value, rulebook);
}

/** @param {string} quantity @param {Record<string, string>} unitOf @param {Rulebook} rulebook */
function labelIn(quantity, unitOf, rulebook) {
  if (quantity === "ratio") return "";
  if (quantity === "percent") return "%";
  return labelOf(quantity, unitIn(quantity, unitOf), rulebook);
}

/** @param {Visit} visit @param {Speaker} speak */
const placeWords = (visit, speak) => {
  const place = visit.place ?? {};
  if (place.station_pressure_kpa !== undefined) return "at the measured pressure";
  if (place.altitude_m !== undefined) return `at ${speak.altitude(place.altitude_m)}`;
  return "altitude not given";
};

/** @type {Record<string, (derived: Tree, speak: Speaker, visit: Visit) => (string | undefined)[]>} */
const MEANINGS = {
  low: (derived, speak, visit) => [
    derived.low_saturation_c
      && `evaporating ${speak.temperature(derived.low_saturation_c.value)} ${placeWords(visit, speak)}`,
  ],
  high: (derived, speak) => [
    derived.high_saturation_c && `condensing ${speak.temperature(derived.high_saturation_c.value)}`,
    derived.condenser_split_k && `${speak.difference(derived.condenser_split_k.value)} over ambient`,
    derived.pressure_ratio && `ratio ${shown(derived.pressure_ratio.value, 1)}`,
  ],
  vent: (derived, speak) => [
    derived.vent_over_evaporating_k && `${speak.difference(derived.vent_over_evaporating_k.value)} over evaporating`,
  ],
  return_air: (derived, speak) => [
    derived.vent_drop_k && `${speak.difference(derived.vent_drop_k.value)} above the vent`,
  ],
  suction_line: (derived, speak) => [derived.superheat_k && `superheat ${speak.difference(derived.superheat_k.value)}`],
  liquid_line: (derived, speak) => [
    derived.subcooling_k && `subcooling ${speak.difference(derived.subcooling_k.value)}`,
  ],
  discharge_line: (derived, speak) => [
    derived.discharge_over_condensing_k
      && `${speak.difference(derived.discharge_over_condensing_k.value)} over condensing`,
  ],
};

/**
 * An odd value is questioned at its field, never refused: what the judgement found, and what would make it usual.
 *
 * @param {Field} field
 * @param {JudgedTest} judged
 * @param {Rulebook} rulebook
 */
function questions(field, judged, rulebook) {
  const path = field.path.join(".");
  return judged.faults.filter((fault) => fault.fields.includes(path)).map((fault) => {
    const words = codeWords(rulebook, fault.code, "fault").toLowerCase();
    const unit = rulebook.words.terms.unit[field.quantity ?? ""]?.[fault.values?.as];
    return unit === undefined ? `${words}?` : `${words}: ${unit}?`;
  });
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
  if (judged === undefined) return "";
  const means = (MEANINGS[field.meaning ?? ""]?.(judged.derived, speak, visit) ?? []).filter((part) => part);
  if (entry.text !== "") means.push(...questions(field, judged, rulebook));
  if (means.length > 0 || entry.text !== "") return means.join(" \u00b7 ");
  const lacking = judged.unknown.filter((unknown) => (unknown.needs ?? []).includes(nameOf(field)));
  const settles = lacking.map((unknown) => codeWords(rulebook, unknown.what, "derived"));
  return settles.length === 0 ? "" : `would tell the ${settles.slice(0, 2).join(" and the ")}`;
}

/**
 * The rows that stand side by side, before and after.
 *
 * @type {Row[]}
 */
export const ROWS = [
  { label: "ambient", plain: "outside air", quantity: "temperature", from: (test) => test.conditions?.ambient_c },
  {
    label: "high side", plain: "pressure, high side", side: "high", quantity: "pressure",
    from: (test) => test.readings?.high_kpa_g,
  },
  {
    label: "low side", plain: "pressure, low side", side: "low", quantity: "pressure",
    from: (test) => test.readings?.low_kpa_g,
  },
  { label: "condensing", quantity: "temperature", derived: "high_saturation_c" },
  { label: "condenser split", quantity: "temperature_difference", derived: "condenser_split_k" },
  { label: "evaporating", quantity: "temperature", derived: "low_saturation_c" },
  { label: "pressure ratio", quantity: "ratio", derived: "pressure_ratio" },
  { label: "superheat", quantity: "temperature_difference", derived: "superheat_k" },
  { label: "subcooling", quantity: "temperature_difference", derived: "subcooling_k" },
  { label: "vent", plain: "air from the vents", quantity: "temperature", from: (test) => test.readings?.vent_c },
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
 * "fell 47 psi", "rose 1.5 K", "the same": a difference in words, rounded as the cells are.
 *
 * @param {Row} row
 * @param {Cell} before
 * @param {Cell} after
 * @param {Speaker} speak
 */
export function differenceWords(row, before, after, speak) {
  /** @param {Cell} cell */
  const text = (cell) => speak.bare(row.quantity, cell.value);
  if (text(before) === text(after)) return "the same";
  const quantity = row.quantity === "temperature" ? "temperature_difference" : row.quantity;
  const amount = speak.bare(quantity, Math.abs(after.value - before.value));
  return `${after.value > before.value ? "rose" : "fell"} ${amount} ${speak.labelFor(quantity)}`.trim();
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

