// What the readings amount to, said on the spot: a sentence, three numbers, what could be wrong; the rest is folded.
// DOM only: every figure comes from the judgement, every sentence of the trade from the rulebook.

import { hasCauses, layoutOf, leadOf, testsTaken, wasRead } from "../visit/leading.js";
import { asideFold, causesView, checkView, customerWords } from "./causes.js";
import { changesWords, comparisonView } from "./change.js";
import { el, folded } from "./elements.js";
import { contradictions, table, unknowns } from "./figures.js";
import { headline, untoldWords } from "./found.js";
import { cellOf, ROWS } from "./meanings.js";
import { has, say, term } from "../language/words.js";
import { stripsView } from "./numbers.js";

/** What the words of a result are made with. @param {Rulebook} rulebook @param {Speaker} speak */
export const aboutOf = (rulebook, speak) => ({
  rulebook, speak, changes: (/** @type {TakenTest[]} */ tests) => changesWords(tests, speak),
});

/**
 * What one test alone cannot say, where the work is done or the second test names no causes.
 *
 * @param {TakenTest[]} tests
 * @param {Sight} sight
 */
function apart(tests, { visit }) {
  const worked = (visit.work ?? []).some(({ code }) => code !== "tested_only");
  const lines = tests.length === 1 && worked && wasRead(tests[0]) ? [say("phone.result.alone")] : [];
  if (tests.length === 2 && !hasCauses(tests[1].judged)) lines.push(untoldWords(tests[1]));
  return lines.map((line) => el("p", { class: "meaning" }, line));
}

/**
 * The figures with their uncertainty, folded; of a pair with what the test before the work pointed to.
 *
 * @param {TakenTest[]} tests
 * @param {About} about
 */
function figuresFold(tests, about) {
  const values = table(tests, about.speak);
  if (values === null) return null;
  const lead = leadOf(tests);
  const earlier = tests.filter((taken) => taken !== lead).map((taken) => causesView(taken, tests, about));
  const mark = say("phone.result.mark", { edition: String(about.rulebook.hash).slice(0, 4) });
  const title = say(earlier.some((view) => view !== null) ? "phone.result.figures_before" : "phone.result.figures");
  return folded(title, [values, earlier, unknowns(tests), el("p", { class: "meaning" }, mark)].flat());
}

/** @param {Page} page @param {Tools} tools @param {Sight} sight */
export function resultView(page, { rulebook }, sight) {
  const about = aboutOf(rulebook, sight.speak);
  const { comparison } = sight.assessment;
  const tests = testsTaken(page, sight);
  const lead = leadOf(tests);
  const layout = layoutOf(lead, rulebook);
  return el(
    "div", { class: `result-whole ${layout}` },
    el("p", { class: "finding" }, headline(tests, comparison, about)),
    tests.map(contradictions),
    stripsView(tests, about, layout),
    comparisonView(comparison, sight.speak),
    lead && layout === "many" && checkView(lead.judged),
    lead && causesView(lead, tests, about),
    apart(tests, sight),
    lead && asideFold(lead, sight.visit, about),
    figuresFold(tests, about),
  );
}

/**
 * The result as plain text, for a message or the clipboard: what a customer may be handed at once.
 *
 * @param {Page} page
 * @param {Tools} tools
 * @param {Sight} sight
 */
export function summaryOf(page, { rulebook }, sight) {
  const tests = testsTaken(page, sight);
  const { visit, speak } = sight;
  const vehicle = [visit.vehicle?.make, visit.vehicle?.model, visit.vehicle?.plate].filter((part) => part).join(" ");
  const rows = ROWS.flatMap((row) => {
    const cells = tests.map(({ test, judged }) => cellOf(row, test, judged));
    if (!has(`phone.summary.${row.code}`) || cells.every((one) => !one)) return [];
    const values = cells.map((one, place) => {
      const value = one ? speak.bare(row.quantity, one.value) : say("phone.row.not_taken");
      return say(`phone.summary.${tests[place].role}`, { value });
    });
    const what = say(`phone.summary.${row.code}`);
    return [say("phone.summary.line", { what, unit: speak.labelFor(row.quantity), values: values.join(", ") })];
  });
  const work = (visit.work ?? []).map((one) => term("work", one.code)).join(", ");
  const words = headline(tests, sight.assessment.comparison, aboutOf(rulebook, speak));
  const fits = customerWords(tests[0]?.judged);
  const done = work && say("phone.summary.done", { work });
  const lines = [visit.technician?.business, vehicle, words, fits, done, ...rows];
  return lines.filter((line) => line).join("\n");
}
