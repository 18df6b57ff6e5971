// An open visit in work: its page, its screen and the keys between them, put together.
// It draws nothing itself and sends nothing; each part of the work has its own module.

import { keepFocus } from "../form/focus.js";
import { endClock } from "../form/items.js";
import { shortTitle } from "../form/frame.js";
import { quickScreen } from "../form/quick.js";
import { visitScreen } from "../form/visit.js";
import { sentences } from "../form/words.js";
import { say } from "../language/words.js";
import { placeOfClock } from "./clock_places.js";
import { conflictActions } from "./conflict_actions.js";
import { recordsOf } from "./earlier_cards.js";
import { createOpenCards } from "./open_cards.js";
import { openClocks } from "./open_timers.js";
import { createPageWriter } from "./page_writer.js";
import { quickActions } from "./quick_actions.js";
import { QUICK, quickStep } from "./quick_step.js";
import { sealActions } from "./seal_actions.js";
import { openingOf, unitFor } from "./settings.js";
import { confirmations, photoActions, stepActions } from "./step_actions.js";
import { stepOf } from "./steps.js";
import { usualTestOf } from "./usual.js";
import { model_year, vin_state } from "../kernel.js";
import { hasDraft } from "./visit_model.js";

const TICK_MS = 1000;

/** @param {string} text */
function vinWords(text) {
  const year = model_year(text);
  const state = vin_state(text);
  return sentences([state !== "empty" && say(`phone.vin.${state}`), year !== null && say("phone.vin.year", { year })]);
}

/**
 * What the parts of the screen work with, besides the step at hand.
 *
 * @param {OpenVisit} open
 * @param {{views: VisitView[], timers: OpenTimers, writer: PageWriter, cards: OpenCards}} parts
 * @param {Notebook} notebook
 * @returns {Omit<Tools, "step" | "ticks">}
 */
function toolsOf(open, { views, timers, writer, cards }, notebook) {
  const { page } = open;
  const { capture, rulebook, settings, tell, version } = notebook;
  return {
    page,
    rulebook,
    app: version,
    clocks: timers,
    records: recordsOf(views, page.id),
    usual: () => usualTestOf(views, page, stepOf("before", rulebook).fields),
    chartsLike: (vehicle) => cards.chartsLike(vehicle, views),
    unitFor: (field) => unitFor(field, settings()),
    settings,
    units: () => settings().units,
    instruments: () => settings().instruments ?? {},
    now: capture.now,
    tell,
    later: notebook.later,
    newId: capture.newId,
    note: (own) => {
      page.own = { ...page.own, ...own };
      notebook.outbox.rememberOf(page.id, page.own).catch(writer.failed);
    },
    readCautions: (codes) => writer.write(confirmations(codes, capture)),
    taxPct: () => settings().tax_pct,
    freshTest: () => ({ id: capture.newId(), at: capture.now() }),
    hintFor: (field, entry) => (field.check === "vin" ? vinWords(entry.text) : null),
    typed: () => {
      tell(say("phone.saved.typing"), "typing");
      writer.autosave.typed();
      open.screen?.refresh();
    },
  };
}

/** @param {string | undefined} slug @param {Rulebook} rulebook */
const stepAt = (slug, rulebook) => (slug === QUICK ? quickStep(rulebook) : stepOf(slug, rulebook));

/**
 * Does what a clock that has ended asks for: ends it if it has a key for that, else leads to its field.
 *
 * @param {string} name
 * @param {OpenVisit} open
 * @param {{timers: OpenTimers, writer: PageWriter, tools: Omit<Tools, "step" | "ticks">, actions: Actions}} parts
 * @param {Notebook} notebook
 */
async function answerClock(name, open, { timers, writer, tools, actions }, { capture, rulebook }) {
  timers.answer(name);
  const place = placeOfClock(name, rulebook);
  if (place === null) return;
  const { step, field, item } = place;
  if (item !== undefined && field.clock.stop !== undefined) {
    endClock(item, field, tools);
    // What is written in another step is left as that step would be.
    if (open.step.slug !== step.slug) await writer.tried(async () => void (await capture.keep(open.page, step)));
    open.screen?.refresh();
    open.screen?.tick();
  } else if (open.step.slug !== step.slug) await actions.go(step.slug);
}

/**
 * Draws the step at hand; one that is drawn again keeps the caret.
 *
 * @param {OpenVisit} open
 * @param {{places: Places, tools: Omit<Tools, "step" | "ticks">, actions: Actions}} parts
 */
function drawing(open, { places, tools, actions }) {
  /** @type {Step | null} */
  let drawn = null;
  return () => {
    if (open.closed) return;
    const { page, step } = open;
    const screen = step.slug === QUICK ? quickScreen : visitScreen;
    const show = () => {
      open.screen = screen(places, { page, step, tools: { ...tools, step }, actions });
    };
    if (step === drawn) keepFocus(places.page, show);
    else show();
    drawn = step;
  };
}

/**
 * Opens a visit on its step, or a fresh one with that id.
 *
 * @param {string} id
 * @param {string | undefined} slug
 * @param {Notebook} notebook
 */
export async function openVisit(id, slug, notebook) {
  const { capture, outbox, rulebook, places, settings, tell } = notebook;
  const page = await capture.open(id, openingOf(settings(), capture.now()));
  page.own = await outbox.recallOf(id);
  /** @type {OpenVisit} */
  const open = { page, step: stepAt(slug, rulebook), screen: null, closed: false, stale: false, draw: () => undefined };
  const cards = createOpenCards(page, notebook);
  const writer = createPageWriter(open, cards, notebook);
  const { failed, autosave, leave, renew } = writer;
  /** @param {Clocks} state */
  const changed = (state) => notebook.alarm.put(state, shortTitle(page.visit));
  const [near, timers] = await Promise.all([cards.around(), openClocks(id, { outbox, failed, tell, changed })]);
  const tools = toolsOf(open, { views: near.views, timers, writer, cards }, notebook);
  const actions = {
    ...stepActions(open, { writer, cards }, notebook),
    ...photoActions(open, writer, notebook),
    ...quickActions(open, writer, notebook),
    ...conflictActions(open, writer, notebook),
    ...sealActions(open, { writer, cards, timers }, notebook),
    failed,
    rulebook,
    device: notebook.device,
  };

  open.draw = drawing(open, { places, tools, actions });
  await cards.look(near);
  const ticking = setInterval(() => {
    timers.watch(performance.now(), notebook.seen());
    open.screen?.tick();
  }, TICK_MS);
  changed(timers.state());
  open.draw();

  return {
    id,
    /** @param {string} clock */
    answer: (clock) => answerClock(clock, open, { timers, writer, tools, actions }, notebook),
    slug: () => open.step.slug,
    renew,
    leave,
    flush: autosave.flush,
    dirty: () => hasDraft(page.draft),
    /** @param {string | undefined} next */
    show: (next) => {
      open.step = stepAt(next, rulebook);
      open.draw();
    },
    close: () => {
      clearInterval(ticking);
      open.closed = true;
    },
  };
}
