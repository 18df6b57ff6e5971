// What a healthy car would show under a test's settings, where the rulebook's bands are valid.
// Twin of sync/kernel/bands.py; the bands, their classes and their validity are rulebook data.

import { historyOf } from "./history.js";
import { absent, partOf } from "./inputs.js";

export function classOf(test, derived, rulebook) {
  const { blower, air } = partOf(test, "conditions");
  const limits = rulebook.bands.classes;
  const load = derived.load_kj_kg === undefined ? null : derived.load_kj_kg.value;
  if (blower === "high" || air === "outside" || (load !== null && load > limits.high_load_kj_kg)) return ["C", true];
  if (absent(blower) || absent(air)) return ["B", false];
  if (blower === "low") {
    if (load === null) return ["A", false];
    if (load <= limits.low_load_kj_kg) return ["A", true];
  }
  return ["B", load !== null];
}

function isValid(visit, inputs, rulebook) {
  const valid = rulebook.bands.valid;
  const [coldest, hottest] = valid.ambient_c;
  if (!inputs.has("ambient_c") || !(coldest <= inputs.values.ambient_c && inputs.values.ambient_c <= hottest)) return false;
  const altitude = partOf(visit, "place").altitude_m;
  const [lowest, highest] = valid.altitude_m;
  return absent(altitude) || (lowest <= altitude && altitude <= highest);
}

function isOutOfScope(test) {
  const mode = partOf(test, "conditions").mode;
  return mode === "heating" || mode === "battery" || partOf(test, "readings").running === "not_running";
}

// How far the bands can be trusted for a refrigerant: 0 where they say nothing.
function trustOf(refrigerant, rulebook) {
  const rows = rulebook.refrigerants.refrigerants;
  return Object.prototype.hasOwnProperty.call(rows, refrigerant) ? rows[refrigerant].trust : 0;
}

function entry(low, high, widen) {
  const more = ((high - low) * widen) / 2;
  return { low: low - more, high: high + more, by: "band" };
}

// Where the suction clamp sat, as far as it decides what superheat is normal there.
export function clampOf(visit, test) {
  const vehicle = partOf(visit, "vehicle");
  const recorded = partOf(test, "readings").suction_at;
  const place = absent(recorded) ? "unknown" : recorded;
  if (place === "compressor" && vehicle.internal_exchanger === true) return "behind_exchanger";
  if (place === "compressor" && vehicle.metering === "orifice_tube") return "after_accumulator";
  return place;
}

// Superheat by where the clamp sat, subcooling by the metering; what is not known widens.
function ofLines(visit, test, widen, book) {
  const place = clampOf(visit, test);
  const recorded = partOf(visit, "vehicle").metering;
  let metering = absent(recorded) ? "unknown" : recorded;
  if (book.subcooling_k[metering] === undefined) metering = "expansion_valve";
  const unsure = book.widen_unsure;
  const found = {};
  const [coldest, warmest] = book.superheat_k[place];
  found.superheat_k = entry(coldest, warmest, place === "unknown" ? widen + unsure : widen);
  const [low, high] = book.subcooling_k[metering];
  found.subcooling_k = entry(low, high, metering === "unknown" ? widen + unsure : widen);
  return found;
}

export function expectedOf(visit, test, inputs, derived, rulebook) {
  const recorded = partOf(visit, "vehicle").refrigerant;
  const refrigerant = absent(recorded) ? "unknown" : recorded;
  const trust = trustOf(refrigerant, rulebook);
  if (refrigerant === "unknown" || isOutOfScope(test)) return {};
  if (!(trust > 0) || !isValid(visit, inputs, rulebook)) return historyOf(visit, test, rulebook);
  const book = rulebook.bands;
  const [name, sure] = classOf(test, derived, rulebook);
  let widen = 1 - trust;
  if (!sure) widen = widen + book.widen_unsure;
  const rpm = partOf(test, "conditions").rpm;
  const found = {};
  for (const quantity of Object.keys(book.bands)) {
    let [low, high] = book.bands[quantity][name];
    if (quantity === "condenser_split_k" && !absent(rpm) && rpm < book.idle.below_rpm) {
      low = low + book.idle.split_low_k;
      high = high + book.idle.split_high_k;
    }
    if (quantity === "low_saturation_c" && partOf(test, "readings").running === "cycling") {
      [low, high] = book.cycling_low_saturation_c;
    }
    found[quantity] = entry(low, high, widen);
  }
  if (book.discharge_over_condensing_k[refrigerant] !== undefined) {
    const [low, high] = book.discharge_over_condensing_k[refrigerant];
    found.discharge_over_condensing_k = entry(low, high, widen);
  }
  Object.assign(found, ofLines(visit, test, widen, book));
  Object.assign(found, historyOf(visit, test, rulebook));
  return found;
}
