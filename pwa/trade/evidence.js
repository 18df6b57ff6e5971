// What speaks for or against a cause in one test: deviations from a healthy car's middle, and what was seen or not.
// Twin of sync/evidence.py; middles, spreads and the ways of regulating are rulebook data. Nothing is ranked here.

import { classOf } from "./bands.js";
import { absent, partOf } from "./inputs.js";

const has = (rows, key) => !absent(key) && Object.prototype.hasOwnProperty.call(rows, key);

const listOf = (object, name) => (absent(object[name]) ? [] : object[name]);

// How far a pattern moves a quantity; what it does not name stays.
export const shiftOf = (pattern, name) => (pattern[name] === undefined ? 0 : pattern[name]);

// How often a sight is noticed with a cause.
export const oftenOf = (row, cause) => (row[cause] === undefined ? row.else : row[cause]);

export function regimesOf(visit, test, book) {
  const weights = book.regimes;
  const kind = partOf(visit, "vehicle").compressor;
  if (has(weights.compressor, kind)) return { ...weights.compressor[kind] };
  const running = partOf(test, "readings").running;
  if (has(weights.running, running)) return { ...weights.running[running] };
  return { ...weights.unknown };
}

// What the middles move with, as distances from the book's own settings, and how much wider they get.
function settingsOf(test, derived, trust, rulebook) {
  const usual = rulebook.causes.settings;
  const conditions = partOf(test, "conditions");
  const load = derived.load_kj_kg;
  const rpm = conditions.rpm;
  const sure = classOf(test, derived, rulebook)[1];
  return {
    load: load === undefined ? 0 : (load.value - usual.load_kj_kg) / 10,
    load_u: load === undefined ? usual.load_unknown_kj_kg / 10 : load.u / 10,
    ambient: (conditions.ambient_c - usual.ambient_c) / 10,
    rpm: absent(rpm) ? 0 : (rpm - usual.rpm) / 1000,
    rpm_u: absent(rpm) ? usual.rpm_unknown / 1000 : 0,
    blower: conditions.blower,
    outside: conditions.air === "outside",
    widen: 2 - trust + (sure ? 0 : rulebook.bands.widen_unsure),
  };
}

// The middle of a row that moves with load, ambient, speed, blower and air.
function moved(row, settings) {
  let middle =
    row.centre + row.per_10_kj_kg * settings.load + row.per_10_k * settings.ambient + row.per_1000_rpm * settings.rpm;
  if (has(row.blower, settings.blower)) middle = middle + row.blower[settings.blower];
  if (settings.outside) middle = middle + row.outside;
  return middle;
}

function spreadOf(parts) {
  let total = 0;
  for (const part of parts) total = total + part * part;
  return Math.sqrt(total);
}

export function middleOf(row, band, settings) {
  if (band !== undefined && band.by === "history") return [(band.low + band.high) / 2, (band.high - band.low) / 4];
  if (row.from === "band") {
    if (band === undefined) return null;
    return [(band.low + band.high) / 2 + row.centre, row.spread * settings.widen];
  }
  const parts = [row.spread, row.per_10_kj_kg * settings.load_u, row.per_1000_rpm * settings.rpm_u];
  return [moved(row, settings), spreadOf(parts) * settings.widen];
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

// Values with their standard uncertainties for every quantity that bears on a cause and can be trusted.
function measuredOf(inputs, judged, rest, book) {
  const doubted = judged.faults.flatMap((fault) => fault.fields);
  const found = {};
  for (const name of Object.keys(book.rests_on)) {
    if (book.rests_on[name].some((field) => doubted.includes(field))) continue;
    if (name === "vent_c") {
      if (inputs.has("vent_c")) found[name] = { value: inputs.values.vent_c, u: inputs.u.vent_c };
    } else if (judged.derived[name] !== undefined) {
      found[name] = { value: judged.derived[name].value, u: judged.derived[name].u };
    }
  }
  if (rest !== null && rest.excess_kpa !== null && book.rest.findings.includes(rest.finding)) {
    found.rest_excess_kpa = { value: rest.excess_kpa.value, u: rest.excess_kpa.u };
  }
  return found;
}

// What was checked or measured outright: {look: seen}.
function notedOf(visit, test, book) {
  const found = {};
  const from = book.looks_from;
  for (const check of listOf(visit, "checks")) {
    if (has(from.checks, check.code) && (check.state === "ok" || check.state === "fault")) {
      found[from.checks[check.code]] = check.state === "fault";
    }
  }
  const fan = partOf(test, "conditions").fan;
  if (has(from.fan, fan)) Object.assign(found, from.fan[fan]);
  const { vent_left_c: left, vent_right_c: right } = partOf(test, "readings");
  if (!absent(left) && !absent(right)) found.uneven_vents = Math.abs(left - right) > from.vents_apart_k;
  for (const move of listOf(visit, "refrigerant_moves")) {
    if (move.kind === "identified" && !absent(move.air_pct)) found.air_found = move.air_pct > from.air_pct;
  }
  return found;
}

export function looksOf(visit, test, book) {
  const noted = notedOf(visit, test, book);
  const observed = listOf(test, "observed");
  const fan = partOf(test, "conditions").fan;
  const looked = observed.length > 0 || listOf(visit, "checks").length > 0 || (!absent(fan) && fan !== "not_seen");
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
  const refrigerant = partOf(visit, "vehicle").refrigerant;
  const rows = rulebook.refrigerants.refrigerants;
  const trust = has(rows, refrigerant) ? rows[refrigerant].trust : 0;
  const measured = measuredOf(inputs, judged, rest, book);
  const looks = looksOf(visit, test, book);
  if (Object.keys(measured).length === 0 && Object.keys(looks).length === 0) return null;
  const settings = settingsOf(test, judged.derived, trust, rulebook);
  const views = viewsOf(regimesOf(visit, test, book), judged, settings, book);
  return { views, measured, looks };
}
