// The screen of one visit: heading, the step at hand, the thin index at the thumb's edge, the next thing at the bottom.
// DOM only: keeping, judging and going elsewhere are handed in as actions.

import { changesOf, provisional } from "../visit/step_changes.js";
import { itemsOf, testOf, valueAt } from "../visit/visit_model.js";
import { entries, stepsOf } from "../visit/steps.js";
import { assess } from "../kernel.js";
import { say, term } from "../language/words.js";
import { cautionsForm, lapsedNote, openCautions, readingsClosed } from "./cautions.js";
import { askedTwice, button, el, replace, setText, showHead } from "./elements.js";
import { withHelp } from "./help.js";
import { healthyMark, offer } from "./known_cards.js";
import { levelling } from "./levelling.js";
import { meaningOf, speaker } from "./meanings.js";
import { notices } from "./notices.js";
import { photosBlock } from "./photos.js";
import { nextCheckAt, testsTaken, wasRead } from "../visit/leading.js";
import { resultView, summaryOf } from "./result.js";
import { sheetWants } from "./sheet_wants.js";
import { signatureForm } from "./signature.js";
import { fillFromClocks, stepForm } from "./step.js";

/**
 * What is known at the moment: the visit with what is being typed, its judgement, and the words for a reading.
 *
 * @param {Page} page
 * @param {Step} step
 * @param {Omit<Tools, "ticks">} tools
 * @returns {Sight}
 */
function sightOf(page, step, tools) {
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

/** @param {Pick<Visit, "place" | "customer">} visit */
export function titleOf(visit) {
  return visit.place?.label ?? visit.customer?.name ?? visit.customer?.address ?? say("phone.day.untitled");
}

/** @param {Visit} visit @param {Speaker} speak */
function contextOf(visit, speak) {
  const vehicle = [visit.vehicle?.make, visit.vehicle?.model].filter((part) => part).join(" ");
  const altitude = visit.place?.altitude_m === undefined ? null : speak.altitude(visit.place.altitude_m);
  const inside = visit.vehicle?.refrigerant && term("refrigerant", visit.vehicle.refrigerant);
  return [titleOf(visit), vehicle, inside, altitude].filter((part) => part).join("\u00a0\u00b7 ");
}

/**
 * How far a step is; "wrong" where a text is held that is no value.
 *
 * @param {Page} page
 * @param {Step} step
 * @param {Tools} tools
 * @param {Sight} sight
 * @returns {"empty" | "begun" | "done" | "open" | "wrong"}
 */
function stateOf(page, step, tools, sight) {
  if (changesOf(page, step, tools.rulebook, () => "0").faults.length > 0) return "wrong";
  if (step.slug === "cautions") return openCautions(sight.visit, tools.rulebook).length === 0 ? "done" : "open";
  const root = step.role === undefined ? sight.visit : (sight.visit.tests ?? []).find((one) => one.role === step.role);
  const any = entries(step.fields).some((field) => valueAt(root, field.path) !== undefined);
  const listed = itemsOf(step, tools.rulebook).some((item) => (sight.visit[item.list] ?? []).length > 0);
  return any || listed ? "begun" : "empty";
}

/**
 * Goes by the page's own way where a link is tapped.
 *
 * @param {() => unknown} go
 * @returns {(event: Event) => void}
 */
const instead = (go) => (event) => {
  event.preventDefault();
  go();
};

/** @param {Page} page @param {Step} step @param {Tools} tools @param {Actions} actions */
function indexOf(page, step, tools, actions) {
  const links = stepsOf(tools.rulebook).map((one, position) => {
    const click = instead(() => actions.go(one.slug));
    const current = one.slug === step.slug ? "step" : null;
    const link = el(
      "a", { href: `/visit/${page.id}/${one.slug}`, "aria-current": current, on: { click } },
      String(position + 1), el("span", { class: "title" }, one.title),
    );
    return { one, link };
  });
  /** @param {Sight} sight */
  const refresh = (sight) => {
    for (const [position, { one, link }] of links.entries()) {
      const state = stateOf(page, one, tools, sight);
      link.className = state;
      link.setAttribute("aria-label", say(`phone.step.${state}`, { number: position + 1, title: one.title }));
    }
  };
  return { root: el("ol", null, links.map(({ link }) => el("li", null, link))), refresh };
}

/** Parts of a screen one under the other, refreshed as one. @param {Part[]} parts @returns {Part} */
const together = (parts) => ({
  root: el("div", null, parts.map((part) => part.root)),
  refresh: (now) => parts.forEach((part) => part.refresh(now)),
});

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
    return { root: readingsClosed(open, () => actions.go("cautions")), refresh: () => undefined };
  }
  const levels = step.role === undefined ? null : levelling(actions.log);
  const form = stepForm(tools, earlierTest(step, tools, sight), levels);
  if (step.slug === "result") return resultBody(page, step, tools, actions, { sight, form });
  const parts = step.photos === undefined ? [form] : [form, photosBlock(step.photos, actions)];
  if (step.slug === "vehicle" || step.slug === "customer") {
    const root = offer(page, step.slug, actions.takeOver);
    if (root !== null) parts.unshift({ root, refresh: () => undefined });
  }
  return together(parts);
}

/**
 * The test whose settings a test may be held by: the one before the work, and for that the last visit's.
 *
 * @param {Step} step
 * @param {Tools} tools
 * @param {Sight} sight
 */
function earlierTest(step, tools, sight) {
  const before = (sight.visit.tests ?? []).findLast((one) => one.role === "before");
  if (step.role === "after") return before;
  return step.role === "before" && before === undefined ? tools.lastTest : undefined;
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
  const signature = signatureForm(sight.visit, actions.sign);
  const mark = healthyMark(page, actions.markHealthy);
  const share = withHelp(hand, "share_summary");
  const closing = withHelp(askedTwice(keys, actions.setAside), "close_without_finishing");
  const finish = button(say("phone.visit.finish"), actions.finish, { class: "main" });
  const wants = sheetWants(actions);
  const root = el("div", null, view, mark, form.root, signature, wants.root, finish, share, closing);
  return {
    root,
    refresh: (now) => {
      const open = new Set([...view.querySelectorAll("details[open] b")].map((title) => title.textContent));
      view.replaceChildren(resultView(page, tools, now));
      for (const one of view.querySelectorAll("details")) {
        one.open = open.has(one.querySelector("b")?.textContent ?? "");
      }
      form.refresh(now);
      wants.refresh(now);
    },
  };
}

/**
 * On the result the next thing is the refrigerant where nobody named it, without which nothing is judged; then the
 * check that would tell the causes apart, else what the customer is advised and
 * charged. The visit is finished at the end of the page.
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
  const context = el("p", { class: "context" }, contextOf(sight.visit, sight.speak));
  const back = el("a", { class: "way", href: "/", on: { click: instead(actions.home) } }, say("phone.page.day"));
  showHead(places, context, el("h1", { "data-step": stepsOf(tools.rulebook).indexOf(step) + 1 }, step.title), back);
  const index = indexOf(page, step, tools, actions);
  const body = bodyOf(page, step, tools, actions, sight);
  places.index.replaceChildren(index.root);
  places.index.hidden = false;
  places.page.className = "visit";
  // Said until the first reading is taken, and on the cautions for whoever looks there again.
  const unread = (sight.visit.tests ?? []).every((test) => test.readings === undefined);
  const isDue = step.slug === "cautions" || (step.slug === "before" && unread);
  const lapsed = isDue && lapsedNote(sight.visit, tools.instruments(), actions.takeDays);
  replace(places.page, notices(page, actions), lapsed, body.root);
  places.foot.replaceChildren(bottomOf(page, step, tools, actions, sight), places.status);
  const refresh = () => {
    const now = sightOf(page, step, tools);
    setText(context, contextOf(now.visit, now.speak));
    index.refresh(now);
    body.refresh(now);
  };
  refresh();
  return { refresh, tick: () => tools.ticks.forEach((tick) => tick()), taken: () => fillFromClocks(tools, true) };
}
