// The screen of one visit: the step at hand, within the frame that all steps have.
// DOM only: keeping, judging and going elsewhere are handed in as actions.

import { provisional } from "../visit/step_changes.js";
import { testOf } from "../visit/visit_model.js";
import { stepsOf } from "../visit/steps.js";
import { assess } from "../kernel.js";
import { say } from "../language/words.js";
import { cautionsForm, lapsedNote, openCautions, readingsClosed } from "./cautions.js";
import { askedTwice, button, el, replace } from "./elements.js";
import { footOf, headOf } from "./frame.js";
import { withHelp } from "./help.js";
import { healthyMark, offer } from "./known_cards.js";
import { meaningOf, speaker } from "./meanings.js";
import { notices } from "./notices.js";
import { photosBlock } from "./photos.js";
import { nextCheckAt, testsTaken, wasRead } from "../visit/leading.js";
import { resultView, summaryOf } from "./result.js";
import { settling } from "./settling.js";
import { sheetWants } from "./sheet_wants.js";
import { signatureForm } from "./signature.js";
import { fillFromClocks, stepForm } from "./step.js";
import { questionBar } from "./unit_question.js";

/**
 * What is known at the moment: the visit with what is being typed, its judgement, and the words for a reading.
 *
 * @param {Page} page
 * @param {Step} step
 * @param {Omit<Tools, "ticks">} tools
 * @returns {Sight}
 */
export function sightOf(page, step, tools) {
  const visit = provisional(page, tools.rulebook);
  const assessment = assess(visit, tools.rulebook, tools.app);
  const speak = speaker(tools.units(), tools.rulebook);
  const id = step.role === undefined ? undefined : testOf(page, step.role)?.id;
  const test = (visit.tests ?? []).find((one) => one.id === id);
  const judged = assessment.tests.find((one) => one.id === id);
  const about = { speak, visit, rulebook: tools.rulebook };
  /** @type {Sight["meaning"]} */
  const meaning = (field, entry) => tools.hintFor(field, entry) ?? meaningOf(field, entry, judged, about);
  return { visit, assessment, speak, test, judged, meaning };
}

/** Parts of a screen one under the other, refreshed as one. @param {Part[]} parts @returns {Part} */
const together = (parts) => ({
  root: el("div", null, parts.map((part) => part.root)),
  refresh: (now) => parts.forEach((part) => part.refresh(now)),
});

/** A test with the way to take it by the quick test. @param {Part} part @param {Actions} actions @returns {Part} */
const withQuick = (part, actions) => {
  const key = button(say("quick.key"), () => actions.go("quick"), { class: "quiet" });
  return { ...part, root: el("div", null, part.root, key) };
};

/**
 * @param {Page} page
 * @param {Step} step
 * @param {Tools} tools
 * @param {Actions} actions
 * @param {Sight} sight
 * @returns {Part}
 */
function bodyOf(page, step, tools, actions, sight) {
  if (step.slug === "cautions") return { root: cautionsForm(sight.visit, tools.rulebook), refresh: () => undefined };
  const open = openCautions(sight.visit, tools.rulebook).length;
  if (step.role !== undefined && open > 0) {
    return withQuick({ root: readingsClosed(open, () => actions.go("cautions")), refresh: () => undefined }, actions);
  }
  const levels = step.role === undefined ? null : settling(actions, tools.ticks);
  const photos = step.photos === undefined ? [] : [photosBlock(step.photos, actions)];
  const form = stepForm(tools, { offered: offeredTest(step, tools, sight), levels, photos });
  if (step.slug === "result") return resultBody(page, step, tools, actions, { sight, form });
  const parts = [form];
  if (step.slug === "vehicle" || step.slug === "customer") {
    const root = offer(page, step.slug, actions.takeOver);
    if (root !== null) parts.unshift({ root, refresh: () => undefined });
  }
  return step.slug === "before" ? withQuick(together(parts), actions) : together(parts);
}

/**
 * The test whose conditions are offered: after the work the one before it, else what is usual.
 *
 * @param {Step} step
 * @param {Tools} tools
 * @param {Sight} sight
 * @returns {import("./conditions.js").Offered | null}
 */
function offeredTest(step, tools, sight) {
  const before = (sight.visit.tests ?? []).findLast((one) => one.role === "before");
  if (step.role === "after") return before === undefined ? null : { test: before, as: "before" };
  const usual = step.role === "before" ? tools.usual() : undefined;
  return usual === undefined ? null : { test: usual, as: "usual" };
}

/**
 * The last step: what the readings amount to, the mark of a healthy test, the bill, and what closes the visit.
 *
 * @param {Page} page
 * @param {Step} step
 * @param {Tools} tools
 * @param {Actions} actions
 * @param {{sight: Sight, form: Part}} parts
 * @returns {Part}
 */
function resultBody(page, step, tools, actions, { sight, form }) {
  const view = el("div", { class: "result" });
  const keys = {
    ask: say("phone.visit.aside"), words: say("phone.visit.aside_words"),
    yes: say("phone.visit.aside_yes"), no: say("phone.visit.aside_no"),
  };
  const summary = () => summaryOf(page, tools, sightOf(page, step, tools));
  const hand = button(say("phone.visit.share"), () => actions.handOver(summary()), { class: "quiet" });
  const signature = signatureForm(page, sight, tools, actions);
  const mark = healthyMark(page, actions.markHealthy);
  const share = withHelp(hand, "share_summary");
  const closing = withHelp(askedTwice(keys, actions.setAside), "close_without_finishing");
  const finish = button(say("phone.visit.finish"), actions.finish, { class: "main" });
  const wants = sheetWants(actions);
  const root = el("div", null, view, mark, form.root, signature.root, wants.root, finish, share, closing);
  return {
    root,
    refresh: (now) => {
      const open = new Set([...view.querySelectorAll("details[open] b")].map((title) => title.textContent));
      view.replaceChildren(resultView(page, tools, now));
      for (const one of view.querySelectorAll("details")) {
        one.open = open.has(one.querySelector("b")?.textContent ?? "");
      }
      form.refresh(now);
      signature.refresh(now);
      wants.refresh(now);
    },
  };
}

/**
 * On the result the next thing is the refrigerant where nobody named it, without which nothing is judged; then the
 * check that would tell the causes apart, else what the customer is advised and charged. The visit is finished at the
 * end of the page.
 *
 * @param {Page} page
 * @param {Tools} tools
 * @param {Actions} actions
 * @param {Sight} sight
 */
function resultKey(page, tools, actions, sight) {
  const tests = testsTaken(page, sight);
  const check = nextCheckAt(tests, tools.rulebook);
  const isNamed = sight.visit.vehicle?.refrigerant !== undefined;
  const [words, slug, name] = tests.some(wasRead) && !isNamed
    ? ["phone.check.refrigerant", "vehicle", "vehicle.refrigerant"]
    : check === null
      ? ["phone.visit.price", "result", "advice/advice"]
      : [`phone.check.${check.what}`, check.slug, check.name];
  return button(say(words), () => actions.reach(slug, name), { class: "main" });
}

/** @param {Page} page @param {Step} step @param {Tools} tools @param {Actions} actions @param {Sight} sight */
function bottomOf(page, step, tools, actions, sight) {
  if (step.slug === "result") return resultKey(page, tools, actions, sight);
  const open = openCautions(sight.visit, tools.rulebook);
  if (step.slug === "cautions" && open.length > 0) {
    const confirm = () => actions.confirm(open.map((code) => ({ code })));
    return button(say("phone.visit.confirm"), confirm, { class: "main" });
  }
  const steps = stepsOf(tools.rulebook);
  const next = steps[steps.indexOf(step) + 1];
  return button(say(`phone.keep.${step.slug}`), () => actions.go(next.slug), { class: "main" });
}

/**
 * Draws the step and returns {refresh}: called after each keystroke, it renews meanings and marks, never a control.
 *
 * @param {Places} places
 * @param {{page: Page, step: Step, tools: Omit<Tools, "ticks">, actions: Actions}} visit
 * @returns {VisitScreen}
 */
export function visitScreen(places, { page, step, tools: means, actions }) {
  /** @type {Tools} */
  const tools = { ...means, ticks: [] };
  const sight = sightOf(page, step, tools);
  const standing = { page, step, tools, actions };
  const head = headOf(places, standing);
  const body = bodyOf(page, step, tools, actions, sight);
  places.page.className = "visit";
  // Said until the first reading is taken, and on the cautions if they are opened again.
  const unread = (sight.visit.tests ?? []).every((test) => test.readings === undefined);
  const isDue = step.slug === "cautions" || (step.slug === "before" && unread);
  const lapsed = isDue && lapsedNote(sight.visit, tools.instruments(), actions.takeDays);
  replace(places.page, notices(page, actions, tools), lapsed, body.root);
  let seen = sight;
  const foot = footOf(places, standing, bottomOf(page, step, tools, actions, sight), () => seen);
  const ask = questionBar({ ...tools, step: step.role === undefined ? { ...step, fields: [] } : step });
  places.foot.prepend(ask.root);
  const refresh = () => {
    seen = sightOf(page, step, tools);
    for (const renew of [head, foot, body.refresh, ask.refresh]) renew(seen);
  };
  refresh();
  return { refresh, tick: () => tools.ticks.forEach((tick) => tick()), taken: () => fillFromClocks(tools, true) };
}
