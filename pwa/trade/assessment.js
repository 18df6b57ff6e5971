// The judgement of one visit: what its readings amount to, what cannot be right and what cannot be told.
// Twin of sync/kernel/assessment.py; results carry codes and values, and the same visit gives the same result on both.

import { expectedOf } from "./bands.js";
import { cleanerOf, co2eOf, restOf, vacuumOf } from "./beside.js";
import { causesOf } from "./causes.js";
import { compare } from "./comparison.js";
import { faultsOf } from "./contradictions.js";
import { absent, inputsOf, partOf } from "./inputs.js";
import { derive } from "./quantities.js";
import { levelledOf } from "./settling.js";

export function refrigerantOf(visit) {
  const refrigerant = partOf(visit, "vehicle").refrigerant;
  return absent(refrigerant) ? "unknown" : refrigerant;
}

export function assessTest(visit, test, inputs, rest, rulebook) {
  const refrigerant = refrigerantOf(visit);
  const [derived, unknown] = derive(inputs, refrigerant, rulebook);
  const judged = {
    id: test.id,
    role: test.role,
    faults: faultsOf(test, inputs, derived, refrigerant, rulebook),
    derived,
    expected: expectedOf(visit, test, inputs, derived, rulebook),
    levelled: levelledOf(test, rulebook),
    unknown,
  };
  return Object.assign(judged, causesOf(visit, test, { inputs, judged, rest }, rulebook));
}

export function assess(visit, rulebook, app = "dev") {
  const rest = restOf(visit, rulebook);
  const tests = [];
  const taken = [];
  for (const test of absent(visit.tests) ? [] : visit.tests) {
    const inputs = inputsOf(visit, test, rulebook);
    taken.push(inputs);
    tests.push(assessTest(visit, test, inputs, rest, rulebook));
  }
  return {
    visit: visit.id,
    rulebook: rulebook.hash,
    app,
    rest,
    vacuum: vacuumOf(visit, rulebook),
    cleaner: cleanerOf(visit, rulebook),
    tests,
    comparison: compare(visit, tests, taken, rulebook),
    cycle: null,
    co2e: co2eOf(visit, rulebook),
  };
}
