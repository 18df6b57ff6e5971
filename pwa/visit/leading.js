// Which test of a visit a result speaks of, what it holds open, and the one thing to do next.
// Pure: no screen, no store, no words; sets and checks come from the judgement, where a check is asked from the book.

import { testOf } from "./visit_model.js";

const ROLES = ["before", "after", "single"];

/** How many causes are lettered at most. */
export const LETTERED = 3;

/** The tests taken, each with its judgement. @param {Page} page @param {Sight} sight @returns {TakenTest[]} */
export function testsTaken(page, { visit, assessment }) {
  return ROLES.flatMap((role) => {
    const id = testOf(page, role)?.id;
    const test = (visit.tests ?? []).find((one) => one.id === id);
    const judged = assessment.tests.find((one) => one.id === id);
    return test === undefined || judged === undefined ? [] : [{ role, test, judged }];
  });
}

/**
 * Whether a test has causes and evidence of them; of one where nothing was read there is nothing to say.
 *
 * @param {JudgedTest} judged
 */
export const hasCauses = (judged) => judged.causes.length > 0 && judged.evidence.length > 0;

/** The test that a result speaks of: the last with causes, else the last. @param {TakenTest[]} tests */
export const leadOf = (tests) => tests.findLast(({ judged }) => hasCauses(judged)) ?? tests.at(-1);

/** Whether anything was read in a test. @param {TakenTest} taken */
export const wasRead = ({ test }) => Object.keys(test.readings ?? {}).length > 0;

/**
 * The causes held open in the order of the trade, or the one that stands alone; none where that is healthy.
 *
 * @param {JudgedTest} judged
 * @param {Rulebook} rulebook
 */
export function heldOf({ causes, undecided }, rulebook) {
  const held = undecided.length > 0 ? undecided : [causes[0].id];
  return held.join() === "healthy" ? [] : rulebook.causes.order.filter((id) => held.includes(id));
}

/**
 * How a result is laid out: by how many causes a test holds open; "plain" where none are named.
 *
 * @param {TakenTest | undefined} lead
 * @param {Rulebook} rulebook
 * @returns {"plain" | "healthy" | "one" | "few" | "many"}
 */
export function layoutOf(lead, rulebook) {
  if (lead === undefined || !hasCauses(lead.judged)) return "plain";
  const { length: count } = heldOf(lead.judged, rulebook);
  if (count < 2) return count === 0 ? "healthy" : "one";
  return count > LETTERED ? "many" : "few";
}

/**
 * Where the next check is asked: the step, and in it the field or entry; none where no check is offered, or where
 * after the work nothing stands out and price and signature come first.
 *
 * @param {TakenTest[]} tests
 * @param {Rulebook} rulebook
 * @returns {{what: string, slug: string, name: string} | null}
 */
export function nextCheckAt(tests, rulebook) {
  const lead = leadOf(tests);
  const check = lead?.judged.next_check ?? null;
  if (lead === undefined || check === null || !hasCauses(lead.judged)) return null;
  if (tests.length > 1 && lead.judged.causes[0].id === "healthy") return null;
  const [step, name] = rulebook.strips.asked_at[check.what];
  return { what: check.what, slug: step === "test" ? lead.role : step, name };
}
