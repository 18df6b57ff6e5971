// Everything derivable from a test's inputs, each value with its standard uncertainty or a named unknown.
// Twin of sync/kernel/quantities.py; one small function a quantity, and one central-difference rule for all of them.

import { dewPointC, enthalpyKjKg, humidityRatio, wetBulbC } from "./air.js";
import { LaybyError, OutOfRange, UnknownName } from "./errors.js";
import { temperatureC } from "./saturation.js";

export class AboveCritical extends LaybyError {
  constructor(values) {
    super("above_critical", values);
  }
}

const rowOf = (name, rulebook) => {
  const rows = rulebook.refrigerants.refrigerants;
  return Object.prototype.hasOwnProperty.call(rows, name) ? rows[name] : null;
};

// The refrigerant that is in the circuit now, with the rulebook to ask about it.
export class Substance {
  constructor(refrigerant, rulebook) {
    this.name = refrigerant;
    this.rulebook = rulebook;
  }

  saturationC(pressure) {
    if (!(pressure > 0)) throw new OutOfRange({ value: pressure, low: 0, high: 0 });
    const row = rowOf(this.name, this.rulebook);
    if (row !== null && row.table !== null && pressure >= row.critical_kpa) throw new AboveCritical({ value: pressure });
    return temperatureC(this.name, pressure, this.rulebook);
  }
}

const lowAbsolute = (x) => x.low_kpa_g + x.suction_drop_kpa + x.station_kpa;
const highAbsolute = (x) => x.high_kpa_g - x.high_drop_kpa + x.station_kpa;
const lowSaturationC = (x, substance) => substance.saturationC(lowAbsolute(x));
const highSaturationC = (x, substance) => substance.saturationC(highAbsolute(x));

function pressureRatio(x) {
  const low = lowAbsolute(x);
  const high = highAbsolute(x);
  if (!(low > 0) || !(high > 0)) throw new OutOfRange({ value: low, low: 0, high: 0 });
  return high / low;
}

export const RULES = {
  station_kpa: (x) => x.station_kpa,
  low_saturation_c: lowSaturationC,
  high_saturation_c: highSaturationC,
  condenser_split_k: (x, substance) => highSaturationC(x, substance) - x.ambient_c,
  vent_over_evaporating_k: (x, substance) => x.vent_c - lowSaturationC(x, substance),
  vent_drop_k: (x) => x.entering_c - x.vent_c,
  pressure_ratio: pressureRatio,
  superheat_k: (x, substance) => x.suction_line_c - lowSaturationC(x, substance),
  subcooling_k: (x, substance) => highSaturationC(x, substance) - x.liquid_line_c,
  liquid_over_ambient_k: (x) => x.liquid_line_c - x.ambient_c,
  discharge_over_condensing_k: (x, substance) => x.discharge_line_c - highSaturationC(x, substance),
  on_share: (x) => x.on_share,
  humidity_ratio: (x, substance) => humidityRatio(x.ambient_c, x.humidity_pct, x.station_kpa, substance.rulebook),
  dew_point_c: (x, substance) => dewPointC(x.ambient_c, x.humidity_pct, substance.rulebook),
  wet_bulb_c: (x, substance) => wetBulbC(x.ambient_c, x.humidity_pct, x.station_kpa, substance.rulebook),
  load_kj_kg: (x, substance) => {
    const ratio = humidityRatio(x.load_air_c, x.load_humidity_pct, x.station_kpa, substance.rulebook);
    return enthalpyKjKg(x.load_air_c, ratio);
  },
};

function orNull(rule, x, substance) {
  try {
    return rule(x, substance);
  } catch (error) {
    // A step to the side may leave a table although the value itself lies inside; the slope is then one-sided.
    if (error instanceof OutOfRange || error instanceof AboveCritical) return null;
    throw error;
  }
}

export function slopeTimesU(rule, x, substance, name, u) {
  const middle = x[name];
  x[name] = middle + u;
  const above = orNull(rule, x, substance);
  x[name] = middle - u;
  const below = orNull(rule, x, substance);
  x[name] = middle;
  if (above !== null && below !== null) return (above - below) / 2;
  const here = rule(x, substance);
  if (above !== null) return above - here;
  if (below !== null) return here - below;
  return 0;
}

export function withUncertainty(rule, names, inputs, substance) {
  const value = rule(inputs.values, substance);
  let total = 0;
  for (const name of names) {
    if (inputs.u[name] > 0) {
      const part = slopeTimesU(rule, inputs.values, substance, name, inputs.u[name]);
      total = total + part * part;
    }
  }
  return [value, Math.sqrt(total)];
}

function outOfTableNeeds(row, inputs) {
  const needs = [];
  for (const name of row.inputs) {
    for (const need of inputs.needs[name] === undefined ? [] : inputs.needs[name]) {
      if (!needs.includes(need)) needs.push(need);
    }
  }
  return needs;
}

export function derive(inputs, refrigerant, rulebook) {
  const substance = new Substance(refrigerant, rulebook);
  const known = rowOf(refrigerant, rulebook);
  const knownTable = known !== null && known.table !== null;
  const derived = {};
  const unknown = [];
  for (const row of rulebook.quantities.derived) {
    const needs = [];
    let code = "not_taken";
    for (const name of row.inputs) {
      if (!inputs.has(name)) {
        if (inputs.codes[name] !== undefined) code = inputs.codes[name];
        for (const need of inputs.needs[name]) if (!needs.includes(need)) needs.push(need);
      }
    }
    if (row.refrigerant && !knownTable) {
      unknown.push({ what: row.name, code: "refrigerant_unknown", needs: ["vehicle.refrigerant"] });
    } else if (needs.length > 0) {
      unknown.push({ what: row.name, code, needs });
    } else {
      try {
        const [value, u] = withUncertainty(RULES[row.name], row.inputs, inputs, substance);
        derived[row.name] = { value, u, unit: row.unit };
      } catch (error) {
        if (error instanceof AboveCritical) {
          unknown.push({ what: row.name, code: "above_critical", needs: [] });
        } else if (error instanceof OutOfRange || error instanceof UnknownName) {
          unknown.push({ what: row.name, code: "out_of_table", needs: outOfTableNeeds(row, inputs) });
        } else {
          throw error;
        }
      }
    }
  }
  return [derived, unknown];
}
