// All causes ranked by how well each explains one test, with what speaks for and against it.
// Twin of sync/kernel/causes.py; patterns, priors and sights are rulebook data. Fits compare causes, they are no chances.

import { evidenceOf, factor, oftenOf, shiftOf } from "./evidence.js";
import { nextCheckOf } from "./nextcheck.js";

export function deviationsOf(evidence, view) {
  const found = [];
  for (const name of Object.keys(evidence.measured)) {
    if (view.middles[name] === undefined) continue;
    const [middle, spread] = view.middles[name];
    const { value, u } = evidence.measured[name];
    found.push([name, value - middle, Math.sqrt(u * u + spread * spread)]);
  }
  return found;
}

// What the sights make of a cause: a product of how often each is noticed, or is not, with it.
function seenOf(cause, evidence, book) {
  let product = 1;
  for (const look of Object.keys(evidence.looks)) {
    const often = oftenOf(book.looks[look], cause);
    const found = evidence.looks[look];
    product = product * (found.seen ? often : 1 - found.weight * often);
  }
  return product;
}

export function explained(evidence, book) {
  const distances = evidence.views.map((view) =>
    deviationsOf(evidence, view).map(([name, deviation, spread]) => [book.columns[name], deviation, spread]),
  );
  const found = {};
  for (const cause of book.order) {
    const seen = seenOf(cause, evidence, book);
    const best = { score: -1, ways: [] };
    for (let i = 0; i < distances.length; i = i + 1) {
      const view = evidence.views[i];
      const before = book.prior[view.regime][cause] * seen * view.weight;
      for (const pattern of book.patterns[view.regime][cause]) {
        let score = before;
        for (const [column, deviation, spread] of distances[i]) {
          score = score * factor((deviation - pattern[column]) / spread);
        }
        best.ways.push({ view, pattern, score });
        if (score > best.score) Object.assign(best, { score, view, pattern });
      }
    }
    found[cause] = best;
  }
  return found;
}

export function ranked(scores, book) {
  let total = 0;
  for (const cause of book.order) total = total + scores[cause].score;
  if (!(total > 0)) return [];
  const left = [...book.order];
  const found = [];
  while (left.length > 0) {
    let best = left[0];
    for (const cause of left) if (scores[cause].score > scores[best].score) best = cause;
    left.splice(left.indexOf(best), 1);
    found.push([best, scores[best].score / total]);
  }
  return found;
}

export function undecidedOf(order, book) {
  const near = order.filter(([, fit]) => fit >= book.told_apart.near * order[0][1]).map(([cause]) => cause);
  return near.length > 1 ? near : [];
}

function sideOf(z, limit) {
  if (z > limit) return "high";
  return z < -limit ? "low" : "usual";
}

// Whether a reading speaks for a cause or against it: the healthy car by itself, the others beside it.
function speaks(cause, z, patternZ, limits) {
  if (cause === "healthy") {
    if (Math.abs(z) <= limits.usual_z) return "for";
    return Math.abs(z) >= limits.unusual_z ? "against" : null;
  }
  const here = factor(patternZ);
  const sound = factor(z);
  if (here >= limits.reading_times * sound) return "for";
  return sound >= limits.reading_times * here ? "against" : null;
}

// Readings that fit this cause better, or worse, than a healthy car; what one has said another does not repeat.
function fromReadings(cause, scores, evidence, book, found) {
  const limits = book.told_apart;
  const { pattern } = scores[cause];
  // Held against one middle for all causes, or a reading could lie above what is usual for one and below for another.
  const { view } = scores.healthy;
  const told = { for: [], against: [] };
  for (const [name, deviation, spread] of deviationsOf(evidence, view)) {
    const z = deviation / spread;
    const side = speaks(cause, z, (deviation - shiftOf(pattern, name, book)) / spread, limits);
    if (side === null) continue;
    const repeated = (book.repeats[name] ?? []).some((other) => told[side].includes(other));
    told[side].push(name);
    if (repeated) continue;
    const { value, u } = evidence.measured[name];
    const values = { value, u, usual: view.middles[name][0] };
    found[side].push({ code: `${name}_${sideOf(z, limits.usual_z)}`, values });
  }
}

// Sights that are noticed more often, or less often, with this cause than with most.
function fromLooks(cause, evidence, book, found) {
  const { times, missed } = book.told_apart;
  for (const look of Object.keys(evidence.looks)) {
    const row = book.looks[look];
    const seen = evidence.looks[look];
    const often = oftenOf(row, cause);
    if (seen.seen) {
      if (often >= times * row.else) found.for.push({ code: look, values: {} });
      else if (cause === "healthy") found.against.push({ code: look, values: {} });
    } else if (1 - seen.weight * row.else >= missed * (1 - seen.weight * often)) {
      found.against.push({ code: `no_${look}`, values: {} });
    }
  }
}

export function causesOf(visit, test, facts, rulebook) {
  const book = rulebook.causes;
  const evidence = evidenceOf(visit, test, facts, rulebook);
  if (evidence === null) return { causes: [], undecided: [], next_check: null };
  const scores = explained(evidence, book);
  const order = ranked(scores, book);
  if (order.length === 0) return { causes: [], undecided: [], next_check: null };
  const causes = order.map(([id, fit]) => {
    const entry = { id, fit, for: [], against: [] };
    fromReadings(id, scores, evidence, book, entry);
    fromLooks(id, evidence, book, entry);
    return entry;
  });
  const undecided = undecidedOf(order, book);
  return { causes, undecided, next_check: nextCheckOf(evidence, scores, order, undecided, book) };
}
