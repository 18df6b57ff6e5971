// The one check that would tell more, a minute of its cost, about what ails the car than any other.
// Twin of sync/kernel/next_check.py; checks, what they cost and what they rest on are rulebook data. It ranks no cause.

import { factor, oftenOf, shiftOf } from "./evidence.js";

// The ways of a cause that another reading may still bring to the front.
const inReach = (held, book) => held.ways.filter((way) => way.score * book.told_apart.behind >= held.score);

// How far a ranking moves: half the sum of what every fit changes by.
function changeOf(fresh, fits) {
  let total = 0;
  for (const cause of Object.keys(fresh)) total = total + fresh[cause];
  if (!(total > 0)) return 0;
  let moved = 0;
  for (const cause of Object.keys(fresh)) moved = moved + Math.abs(fresh[cause] / total - fits[cause]);
  return moved / 2;
}

// What every way of the leading causes predicts for a quantity: its value, that value's spread, the way's score.
function foretold(check, facts, book) {
  const found = {};
  for (const cause of facts.leading) {
    found[cause] = facts.ways[cause].map((way) => {
      const [middle, spread] = way.view.middles[check.quantity];
      return [middle + shiftOf(way.pattern, check.quantity, book), Math.sqrt(spread * spread + check.u * check.u), way.score];
    });
  }
  return found;
}

// A cause's score if the quantity read this: the best of its ways.
function scoreAt(reading, ways) {
  let best = 0;
  for (const [value, spread, before] of ways) {
    const score = before * factor((reading - value) / spread);
    if (score > best) best = score;
  }
  return best;
}

// The change a reading brings: each leading cause in turn is true, and the reading is what it predicts.
function byReading(check, facts, book) {
  const name = check.quantity;
  for (const truth of facts.leading) if (facts.scores[truth].view.middles[name] === undefined) return 0;
  const ways = foretold(check, facts, book);
  let gain = 0;
  for (const truth of facts.leading) {
    const { view, pattern } = facts.scores[truth];
    const reading = view.middles[name][0] + shiftOf(pattern, name, book);
    const fresh = {};
    for (const cause of facts.leading) fresh[cause] = scoreAt(reading, ways[cause]);
    gain = gain + facts.fits[truth] * changeOf(fresh, facts.fits);
  }
  return gain;
}

// The change a sight brings: seen or not seen, as often as each leading cause shows it.
function byLook(check, facts, book) {
  const row = book.looks[check.look];
  let gain = 0;
  for (const seen of [true, false]) {
    const fresh = {};
    let chance = 0;
    for (const cause of facts.leading) {
      const often = oftenOf(row, cause);
      const part = seen ? often : 1 - often;
      fresh[cause] = facts.scores[cause].score * part;
      chance = chance + facts.fits[cause] * part;
    }
    gain = gain + chance * changeOf(fresh, facts.fits);
  }
  return gain;
}

function isOpen(check, evidence) {
  if (check.quantity !== undefined) return evidence.measured[check.quantity] === undefined;
  const look = evidence.looks[check.look];
  return look === undefined || (!look.seen && look.weight < 1);
}

export function gainsOf(evidence, scores, order, book) {
  const leading = order.filter(([, fit]) => fit >= book.told_apart.worth);
  let total = 0;
  for (const [, fit] of leading) total = total + fit;
  const fits = {};
  for (const [cause, fit] of leading) fits[cause] = fit / total;
  const ways = {};
  for (const [cause] of leading) ways[cause] = inReach(scores[cause], book);
  const facts = { leading: leading.map(([cause]) => cause), fits, scores, ways };
  const found = {};
  for (const check of book.checks) {
    if (isOpen(check, evidence)) found[check.what] = (check.quantity !== undefined ? byReading : byLook)(check, facts, book);
  }
  return found;
}

export function nextCheckOf(evidence, scores, order, undecided, book) {
  const gains = gainsOf(evidence, scores, order, book);
  let best = null;
  let bestRate = 0;
  for (const check of book.checks) {
    const gain = gains[check.what];
    if (gain !== undefined && gain / check.minutes > bestRate) {
      best = check.what;
      bestRate = gain / check.minutes;
    }
  }
  if (best === null || gains[best] < book.told_apart.gain) return null;
  const separates = undecided.length === 0 ? [order[0][0], order[1][0]] : undecided;
  return { what: best, separates, gain: gains[best] };
}
