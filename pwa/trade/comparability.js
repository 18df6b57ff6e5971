// Whether two tests can be compared: recorded differences and faults, and what was not recorded.
// Twin of sync/kernel/comparability.py; limits are rulebook data. Nothing here computes a change.

import { absent, partOf } from "./inputs.js";

// One recorded value of a test, null where it was not recorded.
export function part(test, section, name) {
  const value = partOf(test, section)[name];
  return absent(value) ? null : value;
}

const listOf = (visit, name) => (absent(visit[name]) ? [] : visit[name]);

export const hasWork = (visit, codes) => listOf(visit, "work").some((item) => codes.includes(item.code));

export const hasMove = (visit, kinds) => listOf(visit, "refrigerant_moves").some((move) => kinds.includes(move.kind));

// Whether the compressor adapts its stroke or speed; null where its type is not known.
export function isRegulated(visit) {
  const kind = partOf(visit, "vehicle").compressor;
  if (absent(kind) || kind === "unknown") return null;
  return kind !== "cycling_clutch";
}

function differs(before, after, section, name) {
  const one = part(before, section, name);
  const other = part(after, section, name);
  return one !== null && other !== null && one !== other;
}

function apart(before, after, name, limit) {
  const one = part(before, "conditions", name);
  const other = part(after, "conditions", name);
  return one !== null && other !== null && !(Math.abs(one - other) <= limit);
}

function single(test, judged, limits, found) {
  const rinsed = part(test, "conditions", "rinsed_min_ago");
  const mode = part(test, "conditions", "mode");
  let high = part(test, "readings", "high_max_kpa_g");
  if (high === null) high = part(test, "readings", "high_kpa_g");
  for (const [code, holds] of [
    ["face_wet", part(test, "conditions", "face_wet") === true],
    ["rinsed_recently", rinsed !== null && rinsed < limits.rinsed_min],
    ["not_cooling", mode === "heating" || mode === "battery"],
    ["not_running", part(test, "readings", "running") === "not_running"],
    ["cut_out_on_high_pressure", high !== null && high >= limits.cut_out_kpa_g],
    ["not_levelled", judged.levelled !== null && !judged.levelled.settled],
    ["readings_impossible", judged.faults.length > 0],
  ]) {
    if (holds && !found.includes(code)) found.push(code);
  }
}

export function reasonsOf(visit, pair, judged, rulebook) {
  const limits = rulebook.comparison.limits;
  const [before, after] = pair;
  const found = [];
  for (const i of [0, 1]) single(pair[i], judged[i], limits, found);
  const stages = ["off", "low", "high"];
  const fanSeen = stages.includes(part(before, "conditions", "fan")) && stages.includes(part(after, "conditions", "fan"));
  const fanWasWork = hasWork(visit, rulebook.comparison.fan_work);
  for (const [code, holds] of [
    ["blower_differs", differs(before, after, "conditions", "blower")],
    ["air_differs", differs(before, after, "conditions", "air")],
    ["rear_differs", differs(before, after, "conditions", "rear")],
    ["fan_differs", fanSeen && !fanWasWork && differs(before, after, "conditions", "fan")],
    ["minutes_differ", apart(before, after, "running_min", limits.minutes)],
    ["speed_differs", isRegulated(visit) !== true && apart(before, after, "rpm", limits.rpm)],
    ["ambient_differs", apart(before, after, "ambient_c", limits.ambient_k)],
  ]) {
    if (holds) found.push(code);
  }
  return found;
}

// What was not recorded or differs a little: codes, and the sum of squares of the added standard uncertainties in K².
export function notesOf(pair, rulebook) {
  const book = rulebook.comparison;
  const codes = [];
  let total = 0;
  for (const name of Object.keys(book.not_recorded_k)) {
    const one = part(pair[0], "conditions", name);
    const other = part(pair[1], "conditions", name);
    const unseen = name === "fan" && (one === "not_seen" || other === "not_seen");
    if (one === null || other === null || unseen) {
      codes.push(name + "_not_recorded");
      total = total + book.not_recorded_k[name] * book.not_recorded_k[name];
    }
  }
  for (const name of Object.keys(book.differs_k)) {
    if (differs(pair[0], pair[1], "conditions", name)) {
      codes.push(name + "_differs");
      total = total + book.differs_k[name] * book.differs_k[name];
    }
  }
  if (differs(pair[0], pair[1], "readings", "running")) {
    codes.push("running_differs");
    total = total + book.running_differs_k * book.running_differs_k;
  }
  return [codes, total];
}
