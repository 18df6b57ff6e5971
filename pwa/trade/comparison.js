// The honest before/after: what the weather explains of a change, what the work explains, and how sure that is.
// Twin of sync/kernel/comparison.py; it reads inputs and derived quantities, never the desk's cycle.

import { hasMove, hasWork, isRegulated, notesOf, part, reasonsOf } from "./comparability.js";
import { OutOfRange } from "./errors.js";
import { absent, instrumentsOf, partOf } from "./inputs.js";
import { pressureKpa, temperatureC } from "./saturation.js";

// A ratio of loads to a power near one, without a power function: the first-order rational approximation about 1.
export function loadFactor(ratio, power) {
  return ((1 + power) * ratio + (1 - power)) / ((1 - power) * ratio + (1 + power));
}

// Carries the test after to the day of the test before; made for one pair, with every uncertain term by name.
class Carry {
  constructor(refrigerant, rulebook) {
    this.refrigerant = refrigerant;
    this.rulebook = rulebook;
    this.x = {};
    this.u = {};
    this.notes = [];
  }

  put(name, value, u) {
    this.x[name] = value;
    this.u[name] = u;
  }

  split(side) {
    const x = this.x;
    const absolute = x["high_" + side] + x.high_common - x.drop + x.station;
    return temperatureC(this.refrigerant, absolute, this.rulebook) - x["ambient_" + side];
  }

  workSplit() {
    const x = this.x;
    const carried = this.split("after") * loadFactor(x.load_ratio, x.power);
    return carried + x.model_k + x.model_share * carried - this.split("before");
  }

  workPressure() {
    const x = this.x;
    const condensing = x.ambient_before + this.split("before") + this.workSplit();
    const there = pressureKpa(this.refrigerant, condensing, this.rulebook);
    return there + x.drop - x.station - x.high_common - x.high_before;
  }

  withU(pressure) {
    const rule = () => (pressure ? this.workPressure() : this.workSplit());
    const value = rule();
    let total = 0;
    for (const name of Object.keys(this.u)) {
      if (this.u[name] > 0) {
        const middle = this.x[name];
        this.x[name] = middle + this.u[name];
        const above = rule();
        this.x[name] = middle - this.u[name];
        const below = rule();
        this.x[name] = middle;
        const change = (above - below) / 2;
        total = total + change * change;
      }
    }
    return [value, Math.sqrt(total)];
  }
}

const ownShare = (common) => (common >= 0 && common <= 1 ? Math.sqrt(1 - common) : 1);

function putAmbients(carry, inputs, own, book) {
  const unknown = book.ambient_unknown;
  const known = inputs.map((one) => (one.has("ambient_c") ? one.values.ambient_c : null));
  let u = inputs.map((one, i) => (known[i] === null ? unknown.one_u_k : own * one.u.ambient_c));
  let [first, second] = known;
  if (first === null && second === null) {
    first = unknown.c;
    second = unknown.c;
    u = [unknown.both_u_k, unknown.both_u_k];
  } else if (first === null) {
    first = second;
  } else if (second === null) {
    second = first;
  }
  if (known[0] === null || known[1] === null) carry.notes.push("ambient_not_recorded");
  carry.put("ambient_before", first, u[0]);
  carry.put("ambient_after", second, u[1]);
}

function putLoadRatio(carry, judged, book) {
  const terms = book.load;
  const [first, second] = judged.map((one) => one.derived.load_kj_kg);
  if (first !== undefined && second !== undefined) {
    const before = first.value - terms.floor_kj_kg;
    const after = second.value - terms.floor_kj_kg;
    if (before >= terms.lowest && after >= terms.lowest) {
      const ratio = before / after;
      // Thermometer and hygrometer are the same in both tests: a share of each uncertainty is taken as its own.
      const one = (terms.own_share * first.u) / before;
      const other = (terms.own_share * second.u) / after;
      carry.put("load_ratio", ratio, ratio * Math.sqrt(one * one + other * other));
      return;
    }
  }
  // Without the entering air the load follows the weather a little; the guess is widened, not trusted.
  carry.notes.push("load_not_recorded");
  const warmer = carry.x.ambient_before - carry.x.ambient_after;
  const guess = 1 + terms.ratio_per_k * warmer;
  const drift = terms.ratio_per_k * warmer;
  carry.put("load_ratio", guess, Math.sqrt(terms.ratio_u_unknown * terms.ratio_u_unknown + drift * drift));
}

const refrigerantIn = (visit) => {
  const recorded = partOf(visit, "vehicle").refrigerant;
  return absent(recorded) ? "unknown" : recorded;
};

function carryOf(visit, pair, judged, inputs, rulebook) {
  const book = rulebook.comparison;
  const carry = new Carry(refrigerantIn(visit), rulebook);
  const own = ownShare(instrumentsOf(visit, rulebook).common_share);
  for (const [i, side] of [
    [0, "before"],
    [1, "after"],
  ]) {
    carry.put("high_" + side, inputs[i].values.high_kpa_g, own * inputs[i].u.high_kpa_g);
  }
  carry.put("high_common", 0, Math.sqrt(1 - own * own) * inputs[0].u.high_kpa_g);
  carry.put("drop", 0, inputs[0].u.high_drop_kpa);
  putAmbients(carry, inputs, own, book);
  if (inputs[0].has("station_kpa")) {
    carry.put("station", inputs[0].values.station_kpa, inputs[0].u.station_kpa);
  } else {
    carry.notes.push("place_not_recorded");
    carry.put("station", book.place_unknown.station_kpa, book.place_unknown.u_kpa);
  }
  const regulated = isRegulated(visit);
  const key = regulated === null ? "unknown" : regulated ? "regulated" : "fixed";
  carry.put("power", book.power[key], book.power.u);
  putLoadRatio(carry, judged, book);
  const [codes, squares] = notesOf(pair, rulebook);
  for (const code of codes) carry.notes.push(code);
  carry.put("model_k", 0, Math.sqrt(squares + book.spread.split_k * book.spread.split_k));
  carry.put("model_share", 0, book.spread.split_share);
  return carry;
}

// Signs of starvation that came with a change.
export function starved(judged, pair, rulebook) {
  const limits = rulebook.comparison.starvation;
  const before = judged[0].derived;
  const after = judged[1].derived;
  const found = [];
  const rise = (name) =>
    before[name] === undefined || after[name] === undefined ? null : after[name].value - before[name].value;
  const vents = pair.map((test) => part(test, "readings", "vent_c"));
  const ambients = pair.map((test) => part(test, "conditions", "ambient_c"));
  if (vents[0] !== null && vents[1] !== null) {
    let warmer = 0;
    if (ambients[0] !== null && ambients[1] !== null && ambients[1] > ambients[0]) {
      warmer = limits.vent_per_ambient_k * (ambients[1] - ambients[0]);
    }
    if (vents[1] - vents[0] - warmer > limits.vent_k) found.push("vent_warmer");
  }
  const superheat = rise("superheat_k");
  const subcooling = rise("subcooling_k");
  const evaporating = rise("low_saturation_c");
  if (superheat !== null && superheat > limits.superheat_k) found.push("superheat_up");
  const gone = after.subcooling_k !== undefined && after.subcooling_k.value < limits.subcooling_gone_k;
  if (subcooling !== null && gone && subcooling < -limits.subcooling_fall_k) found.push("subcooling_gone");
  if (evaporating !== null && evaporating < -limits.evaporating_fall_k) found.push("low_side_down");
  return found;
}

function directionOf(work, u, rulebook) {
  const reach = rulebook.comparison.coverage * u;
  if (work + reach < 0) return "fell";
  if (work - reach > 0) return "rose";
  return "stayed";
}

// Toward a healthy car or away from it; a fall that came with starvation is never better. Work on the charge may rightly
// raise the high side of a car that is dirty besides, so that it is not called worse.
function verdictOf(direction, before, after, band, evidence) {
  if (direction === "stayed" || band === null) return "not_shown";
  const middle = (band.low + band.high) / 2;
  const starving = evidence.signs.length > 0;
  if (direction === "fell") {
    if (starving) return before <= middle || after < band.low ? "worse" : "not_shown";
    return before > middle && after >= band.low - evidence.slack ? "better" : "not_shown";
  }
  if (before < band.low && after <= band.high) return "better";
  const worse = !evidence.charged && (before > middle || after > band.high);
  return worse ? "worse" : "not_shown";
}

function figures(name, raw, work, u, rulebook) {
  const reach = rulebook.comparison.coverage * u;
  return {
    ["raw_change_" + name]: raw,
    ["conditions_share_" + name]: raw - work,
    ["work_share_" + name]: work,
    ["interval_" + name]: [work - reach, work + reach],
  };
}

function nothing(name) {
  const empty = {};
  for (const key of ["raw_change_", "conditions_share_", "work_share_", "interval_"]) empty[key + name] = null;
  empty.verdict = "not_comparable";
  return empty;
}

// Whether both vents sit where freeze protection holds them (common practice: near 38-39 °F).
export function atFloor(vents, visit, rulebook) {
  const terms = rulebook.comparison.vent;
  for (const vent of vents) if (!(terms.floor_low_c <= vent && vent <= terms.floor_high_c)) return false;
  return isRegulated(visit) !== null || Math.abs(vents[1] - vents[0]) <= terms.floor_apart_k;
}

function ventPart(visit, pair, inputs, rulebook) {
  const terms = rulebook.comparison.vent;
  const vents = inputs.map((one) => one.values.vent_c);
  const name = inputs[0].has("entering_c") && inputs[1].has("entering_c") ? "entering_c" : "ambient_c";
  let warmer = 0;
  let drift = terms.drift_unknown_k;
  if (inputs[0].has(name) && inputs[1].has(name)) {
    warmer = inputs[1].values[name] - inputs[0].values[name];
    drift = Math.abs(warmer);
  }
  const floor = atFloor(vents, visit, rulebook);
  const raw = vents[1] - vents[0];
  const share = floor ? 0 : terms.per_k * warmer;
  const own = ownShare(instrumentsOf(visit, rulebook).common_share);
  let squares = terms.spread_k * terms.spread_k + terms.per_k_u * terms.per_k_u * drift * drift;
  for (const one of inputs) squares = squares + own * own * one.u.vent_c * one.u.vent_c;
  const u = Math.sqrt(squares);
  const found = figures("k", raw, raw - share, u, rulebook);
  const direction = directionOf(raw - share, u, rulebook);
  const observed = absent(pair[1].observed) ? [] : pair[1].observed;
  const weak = observed.includes("weak_air") || observed.includes("icing_then_warm");
  if (floor || direction === "stayed" || weak) found.verdict = "not_shown";
  else found.verdict = direction === "fell" ? "better" : "worse";
  return found;
}

function overall(parts, reasons) {
  if (reasons.length > 0) return "not_comparable";
  const words = parts.filter((one) => one !== null).map((one) => one.verdict);
  if (words.includes("worse")) return "worse";
  if (words.includes("better")) return "better";
  return words.includes("not_shown") ? "not_shown" : "not_comparable";
}

// What may have changed the readings beside the cleaning, named and never credited to it.
function creditsOf(visit, rulebook) {
  const book = rulebook.comparison;
  const found = [];
  if (hasMove(visit, book.refrigerant_moves)) found.push("refrigerant_moved");
  if (hasWork(visit, book.refrigerant_work)) found.push("refrigerant_work");
  return found;
}

function sidesOf(carry, judged, inputs, evidence) {
  const rulebook = carry.rulebook;
  const [pressure, uPressure] = carry.withU(true);
  const [split, uSplit] = carry.withU(false);
  const before = carry.split("before");
  const expected = judged[0].expected.condenser_split_k;
  const band = expected === undefined ? null : expected;
  const raw = inputs[1].values.high_kpa_g - inputs[0].values.high_kpa_g;
  const high = figures("kpa", raw, pressure, uPressure, rulebook);
  high.verdict = verdictOf(directionOf(pressure, uPressure, rulebook), before, before + split, band, evidence);
  const rawSplit = carry.split("after") - before;
  const side = figures("k", rawSplit, split, uSplit, rulebook);
  side.verdict = verdictOf(directionOf(split, uSplit, rulebook), before, before + split, band, evidence);
  return [high, side];
}

function hasTable(refrigerant, rulebook) {
  const rows = rulebook.refrigerants.refrigerants;
  return Object.prototype.hasOwnProperty.call(rows, refrigerant) && rows[refrigerant].table !== null;
}

// The last test before against the last test after; null without a pair.
export function compare(visit, judged, inputs, rulebook) {
  const tests = absent(visit.tests) ? [] : visit.tests;
  const last = { before: -1, after: -1 };
  for (let i = 0; i < tests.length; i += 1) if (last[tests[i].role] !== undefined) last[tests[i].role] = i;
  if (last.before < 0 || last.after < 0) return null;
  const at = [last.before, last.after];
  const pair = at.map((i) => tests[i]);
  const two = at.map((i) => judged[i]);
  const given = at.map((i) => inputs[i]);
  const reasons = reasonsOf(visit, pair, two, rulebook);
  if (!hasTable(refrigerantIn(visit), rulebook)) reasons.push("refrigerant_unknown");
  const found = { pair: pair.map((test) => test.id), reference: "before_day" };
  found.high_side = nothing("kpa");
  found.condenser_split = null;
  found.vent = null;
  const notes = [];
  const bothHigh = given[0].has("high_kpa_g") && given[1].has("high_kpa_g");
  if (reasons.length === 0 && bothHigh) {
    const signs = starved(two, pair, rulebook);
    for (const sign of signs) notes.push(sign);
    const slack = rulebook.comparison.band_slack_k;
    const evidence = { signs, charged: creditsOf(visit, rulebook).length > 0, slack };
    const carry = carryOf(visit, pair, two, given, rulebook);
    for (const note of carry.notes) notes.push(note);
    try {
      const [high, split] = sidesOf(carry, two, given, evidence);
      found.high_side = high;
      if (!notes.includes("ambient_not_recorded")) found.condenser_split = split;
    } catch (error) {
      if (!(error instanceof OutOfRange)) throw error;
      reasons.push("out_of_table");
    }
    if (two[0].expected.condenser_split_k === undefined) notes.push("no_healthy_band");
  } else if (!bothHigh) {
    notes.push("high_side_not_recorded");
  }
  if (given[0].has("vent_c") && given[1].has("vent_c")) {
    if (reasons.length > 0) {
      found.vent = nothing("k");
    } else {
      found.vent = ventPart(visit, pair, given, rulebook);
      if (atFloor(given.map((one) => one.values.vent_c), visit, rulebook)) notes.push("vent_at_floor");
    }
  }
  found.verdict = overall([found.high_side, found.condenser_split, found.vent], reasons);
  found.reasons = reasons;
  found.credits = creditsOf(visit, rulebook);
  found.notes = notes;
  return found;
}
