// An open visit in work: its page, its screen and the keys between them, put together.
// It draws nothing itself and sends nothing; each part of the work has its own module.

import { visitScreen } from "../form/visit.js";
import { sentences } from "../form/words.js";
import { say } from "../language/words.js";
import { conflictActions } from "./conflict_actions.js";
import { lastTestOf, recordsOf } from "./earlier_cards.js";
import { createOpenCards } from "./open_cards.js";
import { openClocks } from "./open_timers.js";
import { createPageWriter } from "./page_writer.js";
import { sealActions } from "./seal_actions.js";
import { openingOf, unitFor } from "./settings.js";
import { photoActions, stepActions } from "./step_actions.js";
import { stepOf } from "./steps.js";
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
  const { capture, rulebook, settings, saveSettings, tell, version } = notebook;
  return {
    page,
    rulebook,
    app: version,
    clocks: timers,
    records: recordsOf(views, page.id),
    lastTest: lastTestOf(views, page.id),
    chartsLike: (vehicle) => cards.chartsLike(vehicle, views),
    unitFor: (field) => unitFor(field, settings()),
    units: () => settings().units,
    instruments: () => settings().instruments ?? {},
    now: capture.now,
    tell,
    newId: capture.newId,
    taxPct: () => settings().tax_pct,
    freshTest: () => ({ id: capture.newId(), at: capture.now() }),
    hintFor: (field, entry) => (field.check === "vin" ? vinWords(entry.text) : null),
    typed: () => {
      tell(say("phone.saved.typing"), "typing");
      writer.autosave.typed();
      open.screen?.refresh();
    },
    preferUnit: (quantity, unit) => {
      saveSettings({ ...settings(), units: { ...settings().units, [quantity]: unit } });
      open.screen?.refresh();
    },
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
  /** @type {OpenVisit} */
  const open = { page, step: stepOf(slug, rulebook), screen: null, closed: false, stale: false, draw };
  const cards = createOpenCards(page, notebook);
  const writer = createPageWriter(open, cards, notebook);
  const { failed, autosave, leave, renew } = writer;
  const [near, timers] = await Promise.all([cards.around(), openClocks(id, { outbox, failed, tell })]);
  const tools = toolsOf(open, { views: near.views, timers, writer, cards }, notebook);
  const actions = {
    ...stepActions(open, { writer, cards }, notebook),
    ...photoActions(open, writer, notebook),
    ...conflictActions(open, writer, notebook),
    ...sealActions(open, { writer, cards }, notebook),
    failed,
    rulebook,
    device: notebook.device,
  };

  function draw() {
    if (open.closed) return;
    open.screen = visitScreen(places, { page, step: open.step, tools: { ...tools, step: open.step }, actions });
  }

  await cards.look(near);
  const ticking = setInterval(() => {
    timers.watch(performance.now(), notebook.seen());
    open.screen?.tick();
  }, TICK_MS);
  draw();

  return {
    id,
    slug: () => open.step.slug,
    renew,
    leave,
    flush: autosave.flush,
    dirty: () => hasDraft(page.draft),
    /** @param {string | undefined} next */
    show: (next) => {
      open.step = stepOf(next, rulebook);
      draw();
    },
    close: () => {
      clearInterval(ticking);
      open.closed = true;
    },
  };
}
