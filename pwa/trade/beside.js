// What is measured beside the running tests: the rest reading, the vacuum hold, the cleaner's mix, CO2 equivalents.
// Twin of sync/kernel/rest_checks.py; limits are rulebook data, and each finding is a code.

import { vapourPressurePa } from "./air.js";
import { OutOfRange } from "./errors.js";
import { absent, Inputs, instrumentsOf, partOf, placeOf, ROOT_3 } from "./inputs.js";
import { pressureKpa } from "./saturation.js";

const listOf = (visit, name) => (absent(visit[name]) ? [] : visit[name]);

const rowOf = (name, rulebook) => {
  const rows = rulebook.refrigerants.refrigerants;
  return !absent(name) && Object.prototype.hasOwnProperty.call(rows, name) ? rows[name] : null;
};

function isRested(rest, limits) {
  if (!absent(rest.hours_off) && rest.hours_off < limits.hours) return false;
  return absent(rest.metal_c) || absent(rest.air_c) || Math.abs(rest.metal_c - rest.air_c) <= limits.metal_air_k;
}

function gaugesOf(rest, instruments) {
  const values = [];
  const us = [];
  for (const side of ["low", "high"]) {
    const value = rest[side + "_kpa_g"];
    if (!absent(value)) {
      const gauge = instruments[side + "_gauge"];
      values.push(value - gauge.zero_kpa);
      us.push(((gauge.class_pct / 100) * gauge.span_kpa) / ROOT_3);
    }
  }
  return [values, us];
}

function restFinding(rest, values, us, excess, u, limits) {
  if (values.length === 2 && Math.abs(values[0] - values[1]) > 2 * Math.sqrt(us[0] * us[0] + us[1] * us[1])) {
    return "gauges_disagree";
  }
  if (!isRested(rest, limits)) return "not_rested";
  let reach = 2 * u;
  if (reach < limits.flag_kpa) reach = limits.flag_kpa;
  if (excess > reach) return "above_saturation";
  if (excess < -reach) return "below_saturation";
  return "as_saturated";
}

export function restOf(visit, rulebook) {
  const rests = listOf(visit, "rests");
  if (rests.length === 0) return null;
  const rest = rests[rests.length - 1];
  const limits = rulebook.checks_at_rest.rest;
  const recorded = partOf(visit, "vehicle").refrigerant;
  const refrigerant = absent(recorded) ? "unknown" : recorded;
  const row = rowOf(refrigerant, rulebook);
  if (row === null || row.table === null) return { excess_kpa: null, finding: "refrigerant_unknown" };
  const instruments = instrumentsOf(visit, rulebook);
  const [values, us] = gaugesOf(rest, instruments);
  const place = new Inputs(rulebook);
  placeOf(visit, rulebook, place);
  const spot = absent(rest.metal_c) ? rest.air_c : rest.metal_c;
  if (values.length === 0 || absent(spot) || !place.has("station_kpa")) return { excess_kpa: null, finding: "not_enough" };
  if (spot >= row.critical_c) return { excess_kpa: null, finding: "above_critical" };
  let uSpot = instruments.thermometer_c / ROOT_3;
  const doubt = absent(rest.metal_c) ? limits.air_only_u_k : limits.metal_u_k;
  uSpot = Math.sqrt(uSpot * uSpot + doubt * doubt);
  let pressure = values[0];
  let uPressure = us[0];
  if (values.length === 2) {
    pressure = (values[0] + values[1]) / 2;
    uPressure = Math.sqrt(us[0] * us[0] + us[1] * us[1]) / 2;
  }
  let full = 0;
  let slope = 0;
  try {
    full = pressureKpa(refrigerant, spot, rulebook);
    slope = (pressureKpa(refrigerant, spot + uSpot, rulebook) - pressureKpa(refrigerant, spot - uSpot, rulebook)) / 2;
  } catch (error) {
    if (!(error instanceof OutOfRange)) throw error;
    return { excess_kpa: null, finding: "out_of_table" };
  }
  const excess = pressure + place.values.station_kpa - full;
  const u = Math.sqrt(uPressure * uPressure + slope * slope + place.u.station_kpa * place.u.station_kpa);
  return { excess_kpa: { value: excess, u }, finding: restFinding(rest, values, us, excess, u, limits) };
}

export function vacuumOf(visit, rulebook) {
  let found = null;
  for (const move of listOf(visit, "refrigerant_moves")) {
    if (move.kind === "vacuum" && !absent(move.pressure_pa)) found = move;
  }
  if (found === null) return null;
  const limits = rulebook.checks_at_rest.evacuation;
  const level = found.pressure_pa;
  const result = { level_pa: level, end_pa: null, rise_pa_min: null };
  if (absent(found.rise_pa) || absent(found.held_min) || !(found.held_min > 0)) {
    result.finding = "hold_not_recorded";
    return result;
  }
  const end = level + found.rise_pa;
  result.end_pa = end;
  result.rise_pa_min = found.rise_pa / found.held_min;
  const water = vapourPressurePa(limits.water_c, rulebook);
  if (level > limits.deep_pa) result.finding = "not_deep";
  else if (found.held_min < limits.held_min) result.finding = "held_too_short";
  else if (found.rise_pa <= limits.rise_pa) result.finding = "held";
  else if (limits.water_low * water <= end && end <= water) result.finding = "rose_toward_water";
  else result.finding = "rose";
  return result;
}

export function cleanerOf(visit, rulebook) {
  let mix = null;
  for (const item of listOf(visit, "work")) if (!absent(item.cleaner)) mix = item.cleaner;
  if (mix === null || absent(mix.parts_cleaner) || absent(mix.parts_water)) return null;
  if (!(mix.parts_cleaner > 0) || !(mix.parts_water >= 0)) return null;
  const limits = rulebook.checks_at_rest.cleaner;
  const cleaner = mix.parts_cleaner;
  const water = mix.parts_water;
  const result = { cleaner_ml: null, water_ml: null, water_parts: water / cleaner, per_pass_ml: null };
  if (!absent(mix.made_ml)) {
    result.cleaner_ml = (mix.made_ml * cleaner) / (cleaner + water);
    result.water_ml = (mix.made_ml * water) / (cleaner + water);
    if (!absent(mix.passes) && mix.passes > 0) result.per_pass_ml = mix.made_ml / mix.passes;
  }
  const findings = [];
  if (result.water_parts < limits.least_water) findings.push("stronger_than_usual");
  if (!absent(mix.dwell_min) && mix.dwell_min > limits.dwell_min) findings.push("left_longer_than_usual");
  result.findings = findings;
  return result;
}

export function co2eOf(visit, rulebook) {
  const found = [];
  for (const move of listOf(visit, "refrigerant_moves")) {
    if (move.kind !== "charged" && move.kind !== "recovered") continue;
    const name = absent(move.refrigerant) ? partOf(visit, "vehicle").refrigerant : move.refrigerant;
    const row = rowOf(name, rulebook);
    if (row === null || absent(move.grams)) continue;
    for (const report of ["AR6", "AR5", "AR4"]) {
      if (row.gwp[report] !== undefined) {
        found.push({ move: move.id, kg: (move.grams / 1000) * row.gwp[report], report });
        break;
      }
    }
  }
  return found;
}
