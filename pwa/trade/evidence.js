// What speaks for or against a cause in one test: deviations from a healthy car's middle, and what was seen or not.
// Twin of sync/kernel/evidence.py; middles, spreads and the ways of regulating are rulebook data. Nothing is ranked here.

import { classOf } from "./bands.js";
import { absent, partOf, rootSum } from "./inputs.js";
import { joinedOf } from "./joined.js";

const has = (rows, key) => !absent(key) && Object.prototype.hasOwnProperty.call(rows, key);

const listOf = (object, name) => (absent(object[name]) ? [] : object[name]);

// How well a deviation of z standard uncertainties agrees: 1 at none, falling slowly far out.
export function factor(z) {
  const part = 1 + (z * z) / 7;
  const square = part * part;
  return 1 / (square * square);
}

// How far a pattern moves a quantity.
export const shiftOf = (pattern, name, book) => pattern[book.columns[name]];

// How often a sight is noticed with a cause.
export const oftenOf = (row, cause) => (row[cause] === undefined ? row.else : row[cause]);

// What a table says of a code, or of all that it does not name.
const rowOf = (rows, key) => (has(rows, key) ? rows[key] : rows.else);

export function regimesOf(visit, test, book) {
  const weights = book.regimes;
  const { compressor, metering } = partOf(visit, "vehicle");
  const { running } = partOf(test, "readings");
  let known = weights.unknown;
  if (has(weights.compressor, compressor)) known = weights.compressor[compressor];
  else if (has(weights.running, running)) known = weights.running[running];
  const { switched = 0, ...found } = known;
  const never = rowOf(weights.never_off, running);
  const orifice = rowOf(weights.orifice, metering);
  for (const [regime, weight] of [
    ["cycling_valve", switched * (1 - never) * (1 - orifice)],
    ["cycling_orifice", switched * (1 - never) * orifice],
    ["never_off", switched * never],
  ]) {
    if (weight > 0) found[regime] = weight;
  }
  return found;
}

// What the middles move with: distances from the book's own settings, codes, and how much wider they get.
function settingsOf(visit, test, derived, rulebook) {
  const { refrigerant, internal_exchanger: fitted, compressor, metering } = partOf(visit, "vehicle");
  const { refrigerants } = rulebook.refrigerants;
  const trust = has(refrigerants, refrigerant) ? refrigerants[refrigerant].trust : 0;
  const usual = rulebook.causes.settings;
  const { ambient_c: ambient, rpm, blower, air } = partOf(test, "conditions");
  const { high_port, suction_at } = partOf(test, "readings");
  const load = derived.load_kj_kg;
  const sure = classOf(test, derived, rulebook)[1];
  return {
    load: load === undefined ? 0 : (load.value - usual.load_kj_kg) / 10,
    load_u: load === undefined ? usual.load_unknown_kj_kg / 10 : load.u / 10,
    ambient: (ambient - usual.ambient_c) / 10,
    rpm: absent(rpm) ? 0 : (rpm - usual.rpm) / 1000,
    rpm_u: absent(rpm) ? usual.rpm_unknown / 1000 : 0,
    codes: {
      blower, air, refrigerant, high_port, suction_at, metering,
      exchanger: fitted === true ? "fitted" : null,
      compressor: absent(compressor) || compressor === "" ? "unknown" : compressor,
    },
    widen: 2 - trust + (sure ? 0 : rulebook.bands.widen_unsure),
  };
}

// What a row's middle moves by with load, ambient and speed, and with the codes it knows.
function moved(row, settings) {
  let middle =
    row.centre + row.per_10_kj_kg * settings.load + row.per_10_k * settings.ambient + row.per_1000_rpm * settings.rpm;
  for (const name of Object.keys(row.by)) {
    const code = settings.codes[name];
    if (has(row.by[name], code)) middle = middle + row.by[name][code];
  }
  return middle;
}

export function middleOf(row, band, settings) {
  if (band !== undefined && band.by === "history") return [(band.low + band.high) / 2, (band.high - band.low) / 4];
  let middle = moved(row, settings);
  if (row.from === "band") {
    if (band === undefined) return null;
    middle = middle + (band.low + band.high) / 2;
  }
  const parts = [row.spread, row.per_10_kj_kg * settings.load_u, row.per_1000_rpm * settings.rpm_u];
  return [middle, rootSum(parts) * settings.widen];
}

// The same middles taken from the bands themselves, null where that would tell nothing else.
function ofBands(middles, expected, book) {
  const found = { ...middles };
  let apart = false;
  for (const name of book.views.quantities) {
    const band = expected[name];
    if (band === undefined || band.by !== "band") continue;
    const middle = (band.low + band.high) / 2;
    found[name] = [middle, (band.high - band.low) / 4];
    if (Math.abs(middle - middles[name][0]) > book.views.apart * middles[name][1]) apart = true;
  }
  return apart ? found : null;
}

export function viewsOf(regimes, judged, settings, book) {
  const views = [];
  for (const regime of Object.keys(regimes)) {
    const middles = {};
    for (const name of Object.keys(book.expected[regime])) {
      const middle = middleOf(book.expected[regime][name], judged.expected[name], settings);
      if (middle !== null) middles[name] = middle;
    }
    middles.rest_excess_kpa = [0, book.rest.spread_kpa];
    views.push({ regime, weight: regimes[regime], middles });
    const other = ofBands(middles, judged.expected, book);
    if (other !== null) views.push({ regime, weight: regimes[regime] * book.views.weight, middles: other });
  }
  return views;
}

// Whether the car's own history speaks of a reading that a joined quantity shares: other cars' middles are worse.
function knownBetter(name, expected, book) {
  const own = (quantity) => expected[quantity] !== undefined && expected[quantity].by === "history";
  return !own(name) && (book.repeats[name] ?? []).some(own);
}

// Values with their standard uncertainties for every quantity that bears on a cause and can be trusted.
function measuredOf(inputs, judged, rest, book) {
  const doubted = judged.faults.flatMap((fault) => fault.fields);
  const taken = { ...judged.derived, ...joinedOf(inputs, judged.derived, book.least) };
  const found = {};
  for (const name of Object.keys(book.rests_on)) {
    if (book.rests_on[name].some((field) => doubted.includes(field))) continue;
    if (knownBetter(name, judged.expected, book)) continue;
    if (name === "vent_c") {
      if (inputs.has("vent_c")) found[name] = { value: inputs.values.vent_c, u: inputs.u.vent_c };
    } else if (taken[name] !== undefined) {
      found[name] = { value: taken[name].value, u: taken[name].u };
    }
  }
  if (rest !== null && rest.excess_kpa !== null && book.rest.findings.includes(rest.finding)) {
    found.rest_excess_kpa = { value: rest.excess_kpa.value, u: rest.excess_kpa.u };
  }
  return found;
}

// The looks that the visit's work has mended by the time of a test after it.
function mendedOf(visit, test, book) {
  if (test.role !== "after") return [];
  const { mends } = book.looks_from;
  return listOf(visit, "work").flatMap((work) => (has(mends, work.code) ? mends[work.code] : []));
}

// What was checked or measured outright: {look: seen}.
function notedOf(visit, test, book) {
  const found = {};
  const from = book.looks_from;
  const mended = mendedOf(visit, test, book);
  for (const check of listOf(visit, "checks")) {
    if (mended.includes(from.checks[check.code])) continue;
    if (has(from.checks, check.code) && (check.state === "ok" || check.state === "fault")) {
      found[from.checks[check.code]] = check.state === "fault";
    }
  }
  const fan = partOf(test, "conditions").fan;
  if (has(from.fan, fan)) Object.assign(found, from.fan[fan]);
  const { vent_left_c: left, vent_right_c: right } = partOf(test, "readings");
  if (!absent(left) && !absent(right)) found.uneven_vents = Math.abs(left - right) > from.vents_apart_k;
  const kind = partOf(visit, "vehicle").compressor;
  const { running } = partOf(test, "readings");
  if (has(from.running, kind) && has(from.running[kind], running)) found.never_off = from.running[kind][running];
  for (const move of listOf(visit, "refrigerant_moves")) {
    if (move.kind === "identified" && !absent(move.air_pct)) found.air_found = move.air_pct > from.air_pct;
  }
  return found;
}

// Whether somebody went round the car: anything is on record that is not felt from the seat.
function lookedRound(visit, test, book) {
  const { felt } = book.unseen;
  if (listOf(test, "observed").some((look) => !felt.includes(look))) return true;
  const from = book.looks_from.checks;
  const told = listOf(visit, "checks").filter((check) => check.state === "ok" || check.state === "fault");
  if (told.some((check) => !has(from, check.code) || !felt.includes(from[check.code]))) return true;
  const fan = partOf(test, "conditions").fan;
  return !absent(fan) && fan !== "not_seen";
}

export function looksOf(visit, test, book) {
  const noted = notedOf(visit, test, book);
  const observed = listOf(test, "observed");
  const looked = lookedRound(visit, test, book);
  const found = {};
  for (const look of Object.keys(book.looks)) {
    if (observed.includes(look)) found[look] = { seen: true, weight: 1 };
    else if (noted[look] !== undefined) found[look] = { seen: noted[look], weight: book.unseen.noted };
    else if (looked && book.unseen.sights.includes(look)) found[look] = { seen: false, weight: book.unseen.looked };
  }
  return found;
}

export function evidenceOf(visit, test, facts, rulebook) {
  const { inputs, judged, rest } = facts;
  if (absent(partOf(test, "conditions").ambient_c) || judged.expected.low_saturation_c === undefined) return null;
  const book = rulebook.causes;
  const measured = measuredOf(inputs, judged, rest, book);
  const looks = looksOf(visit, test, book);
  if (Object.keys(measured).length === 0 && Object.keys(looks).length === 0) return null;
  const settings = settingsOf(visit, test, judged.derived, rulebook);
  const views = viewsOf(regimesOf(visit, test, book), judged, settings, book);
  return { views, measured, looks };
}
