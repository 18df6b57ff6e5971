// Readings that cannot be right, alone or together: found here, said first, never refused.
// Twin of sync/kernel/contradictions.py; ranges and unit mix-ups are rulebook data, nothing here changes a reading.

import { absent, partOf } from "./inputs.js";

const fault = (code, fields, values) => ({ code, fields, values });

function highLimit(field, limits, refrigerant, rulebook) {
  const special = rulebook.quantities.plausible_r744;
  return refrigerant === "R744" && special[field] !== undefined ? special[field] : limits.high;
}

function slipOf(value, limits, high, rulebook) {
  for (const slip of rulebook.quantities.slips[limits.quantity]) {
    const wouldBe = value * slip.scale + slip.offset;
    if (limits.low <= wouldBe && wouldBe <= high) return { as: slip.as, would_be: wouldBe };
  }
  return null;
}

export function implausible(test, refrigerant, rulebook) {
  const found = [];
  const table = rulebook.quantities.plausible;
  for (const field of Object.keys(table)) {
    const [section, name] = field.split(".");
    const value = partOf(test, section)[name];
    if (absent(value)) continue;
    const limits = table[field];
    const high = highLimit(field, limits, refrigerant, rulebook);
    if (limits.low <= value && value <= high) continue;
    const slip = slipOf(value, limits, high, rulebook);
    if (slip === null) found.push(fault("implausible", [field], { value, low: limits.low, high }));
    else found.push(fault("unit_slip", [field], { value, as: slip.as, would_be: slip.would_be }));
  }
  return found;
}

function pressureFaults(inputs, running) {
  const found = [];
  const x = inputs.values;
  const fields = { low_kpa_g: "readings.low_kpa_g", high_kpa_g: "readings.high_kpa_g" };
  if (inputs.has("station_kpa")) {
    for (const name of Object.keys(fields)) {
      if (inputs.has(name) && !(x[name] + x.station_kpa > 0)) {
        found.push(fault("under_vacuum", [fields[name]], { value: x[name], station: x.station_kpa }));
      }
    }
  }
  if (running && inputs.has("low_kpa_g") && inputs.has("high_kpa_g") && x.low_kpa_g > x.high_kpa_g) {
    const values = { low: x.low_kpa_g, high: x.high_kpa_g };
    found.push(fault("sides_swapped", ["readings.low_kpa_g", "readings.high_kpa_g"], values));
  }
  return found;
}

const beyond = (derived, name) => derived[name] !== undefined && derived[name].value < -2 * derived[name].u;

function pairFaults(derived, running) {
  const found = [];
  const low = "readings.low_kpa_g";
  const high = "readings.high_kpa_g";
  const liquid = "readings.liquid_line_c";
  const ambient = "conditions.ambient_c";
  if (beyond(derived, "liquid_over_ambient_k") && running) {
    const under = derived.liquid_over_ambient_k.value;
    found.push(fault("liquid_under_ambient", [liquid, ambient], { by: -under }));
    if (derived.subcooling_k !== undefined && derived.condenser_split_k !== undefined) {
      const values = { subcooling: derived.subcooling_k.value, split: derived.condenser_split_k.value };
      found.push(fault("subcooling_above_split", [high, liquid, ambient], values));
    }
  }
  if (!running) return found;
  for (const [name, code, fields] of [
    ["condenser_split_k", "condensing_under_ambient", [high, ambient]],
    ["vent_over_evaporating_k", "vent_under_evaporating", ["readings.vent_c", low]],
    ["superheat_k", "suction_under_evaporating", ["readings.suction_line_c", low]],
    ["discharge_over_condensing_k", "discharge_under_condensing", ["readings.discharge_line_c", high]],
    ["subcooling_k", "liquid_over_condensing", [liquid, high]],
  ]) {
    if (beyond(derived, name)) found.push(fault(code, fields, { by: -derived[name].value }));
  }
  return found;
}

export function faultsOf(test, inputs, derived, refrigerant, rulebook) {
  const running = partOf(test, "readings").running !== "not_running";
  const found = implausible(test, refrigerant, rulebook);
  for (const one of pressureFaults(inputs, running)) found.push(one);
  for (const one of pairFaults(derived, running)) found.push(one);
  return found;
}
