// What a finished quick test shows in the room of the pad: the verdict, what was not recorded, a name, more readings.
// DOM only: the verdict's words are the result page's own; usual settings are recorded by their key alone.

import { listed } from "../language/formats.js";
import { say, term } from "../language/words.js";
import { unsaid } from "../visit/quick_actions.js";
import { testsTaken } from "../visit/leading.js";
import { fieldNamed, stepOf } from "../visit/steps.js";
import { entryFor, testOf, typeInto } from "../visit/visit_model.js";
import { button, el } from "./elements.js";
import { control } from "./fields.js";
import { comparisonView } from "./change.js";
import { headline } from "./found.js";
import { photosBlock } from "./photos.js";
import { aboutOf } from "./result.js";

/** The tests that a quick test is about. @param {Page} page @param {Sight} sight */
export const testsOf = (page, sight) => testsTaken(page, sight);

/** The verdict in the result page's words. @param {Page} page @param {Sight} sight @param {Rulebook} rulebook */
export const verdictOf = (page, sight, rulebook) =>
  headline(testsOf(page, sight), sight.assessment.comparison, aboutOf(rulebook, sight.speak));

/**
 * The usual settings that a test does not say, in words; empty where it says them all.
 *
 * @param {Test} usual
 * @param {string} role
 * @param {Tools} tools
 */
function usualWords(usual, role, { page, rulebook }) {
  const step = stepOf(role, rulebook);
  const id = testOf(page, role)?.id;
  const test = (page.visit.tests ?? []).find((one) => one.id === id);
  if (id === undefined) return [];
  return Object.entries(unsaid(usual, test, step).conditions ?? {}).map(([name, value]) => {
    const field = fieldNamed(step.fields, `conditions.${name}`);
    const flag = value === true ? "yes" : "no";
    const said = typeof value === "boolean" ? say(`phone.form.${flag}`) : term(field?.vocabulary ?? "", value);
    return say("phone.form.condition", { label: (field?.label ?? "").toLowerCase(), value: said });
  });
}

/** @param {Tools} tools @param {Actions} actions */
function usualRow(tools, actions) {
  const { page } = tools;
  const usual = tools.usual();
  const tests = ["before", "after"].filter((role) => testOf(page, role) !== undefined);
  if (usual === undefined) {
    const isSaid = (page.visit.tests ?? []).some(({ conditions = {} }) => conditions.blower !== undefined);
    return isSaid ? null : el("p", { class: "meaning usual" }, say("quick.end.unusual"));
  }
  const [words = []] = tests.map((role) => usualWords(usual, role, tools)).filter((one) => one.length > 0);
  if (words.length === 0) return null;
  const key = button(say(`quick.end.usual_${tests.length > 1 ? "both" : "one"}`), () => actions.asUsual(usual),
    { class: "outlined" });
  const line = el("p", { class: "meaning" }, say("quick.end.usual", { settings: listed(words) }));
  return el("div", { class: "usual" }, line, key);
}

/**
 * A field of the visit itself, as a control.
 *
 * @param {string} slug
 * @param {string} path
 * @param {Tools} tools
 */
function visitField(slug, path, tools) {
  const { page, rulebook } = tools;
  const step = stepOf(slug, rulebook);
  const field = /** @type {Field} */ (fieldNamed(step.fields, path));
  /** @type {Source} */
  const source = {
    get: () => entryFor(page, step, field, undefined, rulebook),
    set: ({ text }) => {
      typeInto(page, step, field, { text }, tools.freshTest());
      tools.typed();
    },
  };
  return control(field, source, tools).root;
}

/** A row that opens in place. @param {string} words @param {string} small @param {string} key @param {Child[]} parts */
function openingRow(words, small, key, parts) {
  const name = el("span", null, words, " ", el("small", null, small));
  const summary = el("summary", null, name, el("span", { class: "turn" }, key));
  return el("details", { class: "row" }, summary, ...parts);
}

/**
 * The part under the table once the pad is gone.
 *
 * @param {Tools} tools
 * @param {Actions} actions
 * @param {Sight} sight
 * @param {() => void} more opens the second table
 */
export function endPart(tools, actions, sight, more) {
  const { page, rulebook } = tools;
  const { comparison } = sight.assessment;
  const shares = comparisonView(comparison, sight.speak);
  const plate = openingRow(say("quick.end.plate"), sight.visit.vehicle?.plate ?? sight.visit.customer?.name ?? "",
    say("quick.end.write"),
    [visitField("vehicle", "vehicle.plate", tools), visitField("customer", "customer.name", tools)]);
  const moreKey = button("", more, { class: "row more" });
  moreKey.append(
    el("span", null, say("quick.end.more"), " ", el("small", null, say("quick.end.more_what"))),
    el("span", { class: "turn" }, say("quick.end.open")),
  );
  return el(
    "section", { class: "end" }, el("p", { class: "finding" }, verdictOf(page, sight, rulebook)), shares,
    usualRow(tools, actions), plate, moreKey,
  );
}

/** What goes with the second table: usual settings and photos. @param {Tools} tools @param {Actions} actions */
export function moreParts(tools, actions) {
  const photos = photosBlock(["before", "after"], actions);
  return { root: el("section", { class: "end" }, usualRow(tools, actions), photos.root), refresh: photos.refresh };
}
