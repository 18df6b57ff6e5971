// What this very vehicle showed when a person marked it healthy, where the rules allow to use it as a yardstick.
// Twin of sync/kernel/history.py; the rules are rulebook data. Days are counted, never taken from a clock.

import { absent, partOf } from "./inputs.js";

// Days since 1970-01-01 of the local date that a time begins with, in 400-year cycles of 146,097 days from 1 March.
export function dayNumber(time) {
  let year = Number(time.slice(0, 4));
  let month = Number(time.slice(5, 7));
  const day = Number(time.slice(8, 10));
  if (month <= 2) {
    year = year - 1;
    month = month + 12;
  }
  const cycle = Math.floor(year / 400);
  const ofCycle = year - cycle * 400;
  const ofYear = Math.floor((153 * (month - 3) + 2) / 5) + day - 1;
  const days = ofCycle * 365 + Math.floor(ofCycle / 4) - Math.floor(ofCycle / 100) + ofYear;
  return cycle * 146097 + days - 719468;
}

function isUsable(entry, visit, test, rules) {
  const vehicle = partOf(visit, "vehicle");
  const conditions = partOf(test, "conditions");
  if (absent(entry.refrigerant) || entry.refrigerant !== vehicle.refrigerant) return false;
  for (const name of ["blower", "air"]) if (absent(entry[name]) || entry[name] !== conditions[name]) return false;
  if (!absent(entry.rear) && !absent(conditions.rear) && entry.rear !== conditions.rear) return false;
  const marked = dayNumber(entry.at);
  const age = dayNumber(test.at) - marked;
  if (!(age >= 0 && age <= rules.days)) return false;
  const worked = partOf(vehicle, "baseline").refrigerant_work_at;
  return absent(worked) || dayNumber(worked) < marked;
}

// Whether this visit itself worked on the refrigerant before this test.
function refrigerantWorkBetween(visit, test, rulebook) {
  if (test.role !== "after") return false;
  const { refrigerant_work: codes, refrigerant_moves: kinds } = rulebook.comparison;
  const work = absent(visit.work) ? [] : visit.work;
  const moves = absent(visit.refrigerant_moves) ? [] : visit.refrigerant_moves;
  return work.some((item) => codes.includes(item.code)) || moves.some((move) => kinds.includes(move.kind));
}

export function historyOf(visit, test, rulebook) {
  const rules = rulebook.bands.history;
  const found = {};
  if (refrigerantWorkBetween(visit, test, rulebook)) return found;
  const entries = partOf(partOf(visit, "vehicle"), "baseline").entries;
  for (const entry of absent(entries) ? [] : entries) {
    if (!isUsable(entry, visit, test, rules)) continue;
    for (const name of Object.keys(rules.spread)) {
      if (entry.values[name] === undefined) continue;
      const { value, u } = entry.values[name];
      const reach = rules.coverage * Math.sqrt(u * u + rules.spread[name] * rules.spread[name]);
      if (found[name] === undefined) found[name] = { low: value - reach, high: value + reach, by: "history" };
      if (value - reach < found[name].low) found[name].low = value - reach;
      if (value + reach > found[name].high) found[name].high = value + reach;
    }
  }
  return found;
}
