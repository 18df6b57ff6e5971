// What a test measured: corrected values with their standard uncertainties, ready for the rules.
// Twin of sync/kernel/inputs.py; here instruments, cycling, ports and the place meet the readings. Nothing is judged.

import { OutOfRange } from "./errors.js";
import { stationKpa } from "./saturation.js";

export const ROOT_3 = Math.sqrt(3);

export const absent = (value) => value === null || value === undefined;

export const partOf = (object, name) => (absent(object) || absent(object[name]) ? {} : object[name]);

// Values and standard uncertainties by name, what to take when one is missing, and why one cannot be had.
export class Inputs {
  constructor(rulebook) {
    this.values = {};
    this.u = {};
    this.needs = { ...rulebook.quantities.needs };
    this.codes = {};
  }

  has(name) {
    return this.values[name] !== undefined;
  }

  take(name, value, u) {
    if (absent(value)) return;
    this.values[name] = value;
    this.u[name] = u;
  }
}

export function rootSum(parts) {
  let total = 0;
  for (const part of parts) total = total + part * part;
  return Math.sqrt(total);
}

export function instrumentsOf(visit, rulebook) {
  const own = partOf(visit, "instruments");
  const defaults = rulebook.instruments.defaults;
  const found = {};
  for (const name of Object.keys(defaults)) {
    if (name === "low_gauge" || name === "high_gauge") {
      const gauge = partOf(own, name);
      found[name] = {};
      for (const part of Object.keys(defaults[name])) {
        found[name][part] = absent(gauge[part]) ? defaults[name][part] : gauge[part];
      }
    } else {
      found[name] = absent(own[name]) ? defaults[name] : own[name];
    }
  }
  return found;
}

export function placeOf(visit, rulebook, inputs) {
  const place = partOf(visit, "place");
  const terms = rulebook.instruments.station;
  const measured = place.station_pressure_kpa;
  if (!absent(measured)) {
    if (measured > 0) {
      inputs.take("station_kpa", measured, terms.measured_u_kpa);
    } else {
      inputs.codes.station_kpa = "out_of_table";
      inputs.needs.station_kpa = ["place.station_pressure_kpa"];
    }
  } else if (!absent(place.altitude_m)) {
    try {
      inputs.take("station_kpa", stationKpa(place.altitude_m, rulebook), terms.altitude_u_kpa);
    } catch (error) {
      if (!(error instanceof OutOfRange)) throw error;
      inputs.codes.station_kpa = "out_of_table";
    }
  }
}

function gaugeU(gauge) {
  return ((gauge.class_pct / 100) * gauge.span_kpa) / ROOT_3;
}

function takePressures(test, instruments, rulebook, inputs) {
  const readings = partOf(test, "readings");
  const terms = rulebook.instruments;
  const cycling = readings.running === "cycling";
  const flutters = !absent(test.observed) && test.observed.includes("needle_flutter");
  for (const side of ["low", "high"]) {
    const gauge = instruments[side + "_gauge"];
    let value = readings[side + "_kpa_g"];
    const parts = [gaugeU(gauge)];
    if (flutters) parts.push(terms.flutter[side + "_kpa"]);
    if (cycling) {
      // The pair at cut-out belongs together: the lowest low side with the highest high side.
      if (side === "high" && !absent(readings.high_max_kpa_g)) {
        value = readings.high_max_kpa_g;
        parts.push(terms.cycling.high_kpa);
      } else if (side === "high") {
        parts.push(terms.cycling.high_at_unknown_phase_kpa);
      } else {
        parts.push(terms.cycling.low_kpa);
      }
    }
    if (!absent(value)) inputs.take(side + "_kpa_g", value - gauge.zero_kpa, rootSum(parts));
  }
  const port = absent(readings.high_port) ? "unknown" : readings.high_port;
  inputs.take("suction_drop_kpa", 0, terms.ports.suction_kpa / ROOT_3);
  inputs.take("high_drop_kpa", 0, terms.ports.high[port] / ROOT_3);
}

function takeTemperatures(test, instruments, rulebook, inputs) {
  const readings = partOf(test, "readings");
  const conditions = partOf(test, "conditions");
  const steady = instruments.thermometer_c / ROOT_3;
  let moving = steady;
  if (readings.running === "cycling") moving = rootSum([steady, rulebook.instruments.cycling.temperature_c]);
  inputs.take("ambient_c", conditions.ambient_c, steady);
  inputs.take("humidity_pct", conditions.humidity_pct, instruments.hygrometer_pct / ROOT_3);
  inputs.take("return_air_c", readings.return_air_c, steady);
  for (const name of ["suction_line_c", "liquid_line_c", "discharge_line_c"]) {
    inputs.take(name, readings[name], moving);
  }
  let centre = readings.vent_c;
  const left = readings.vent_left_c;
  const right = readings.vent_right_c;
  if (absent(centre) && !absent(left) && !absent(right)) centre = (left + right) / 2;
  else if (absent(centre)) centre = absent(left) ? right : left;
  inputs.take("vent_c", centre, moving);
}

function takeEntering(test, instruments, inputs) {
  const readings = partOf(test, "readings");
  const conditions = partOf(test, "conditions");
  const thermometer = instruments.thermometer_c / ROOT_3;
  const hygrometer = instruments.hygrometer_pct / ROOT_3;
  if (conditions.air === "outside") {
    inputs.take("entering_c", conditions.ambient_c, thermometer);
    inputs.take("load_air_c", conditions.ambient_c, thermometer);
    inputs.take("load_humidity_pct", conditions.humidity_pct, hygrometer);
    inputs.needs.entering_c = ["conditions.ambient_c"];
    inputs.needs.load_air_c = ["conditions.ambient_c"];
    inputs.needs.load_humidity_pct = ["conditions.humidity_pct"];
    return;
  }
  inputs.take("entering_c", readings.return_air_c, thermometer);
  inputs.needs.entering_c = ["readings.return_air_c"];
  inputs.needs.load_air_c = ["readings.return_air_c"];
  inputs.needs.load_humidity_pct = ["readings.return_air_humidity_pct"];
  if (conditions.air === "recirculated") {
    inputs.take("load_air_c", readings.return_air_c, thermometer);
    inputs.take("load_humidity_pct", readings.return_air_humidity_pct, hygrometer);
  } else {
    inputs.needs.load_air_c = ["conditions.air"];
  }
}

function takeShare(test, rulebook, inputs) {
  const readings = partOf(test, "readings");
  const on = readings.on_s;
  const off = readings.off_s;
  const command = readings.command_pct;
  const terms = rulebook.instruments.share_u;
  if (!absent(on) && !absent(off) && on >= 0 && off >= 0 && on + off > 0) {
    inputs.take("on_share", on / (on + off), terms.timed);
  } else if (!absent(command) && command >= 0 && command <= 100) {
    inputs.take("on_share", command / 100, terms.command);
  }
}

export function inputsOf(visit, test, rulebook) {
  const inputs = new Inputs(rulebook);
  const instruments = instrumentsOf(visit, rulebook);
  placeOf(visit, rulebook, inputs);
  takePressures(test, instruments, rulebook, inputs);
  takeTemperatures(test, instruments, rulebook, inputs);
  takeEntering(test, instruments, inputs);
  takeShare(test, rulebook, inputs);
  return inputs;
}
