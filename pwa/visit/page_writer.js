// Writing in an open visit: its draft soon after each keystroke, its operations when a step is left or a key pressed.
// It draws nothing and decides nothing about a reading; whatever fails is told, and stays on the screen.

import { savedAt } from "../form/frame.js";
import { faultWords, savedWords } from "../form/words.js";
import { createAutosave } from "./autosave.js";
import { hasDraft } from "./visit_model.js";

/**
 * Keeps what a step, or the steps it covers, hold as operations; when, or null where there was nothing.
 *
 * @param {Capture} capture
 * @param {Page} page
 * @param {Step} step
 */
async function keepStep(capture, page, step) {
  let instant = null;
  for (const one of step.covers ?? [step]) instant = (await capture.keep(page, one)) ?? instant;
  return instant;
}

/**
 * Says when the visit was last kept: the line under the title for the eye, the status for a screen reader.
 *
 * @param {Page} page
 * @param {Notebook} notebook
 */
function createSavedLine(page, { places, tell }) {
  places.saved.textContent = savedAt(page.ops.at(-1)?.at ?? null, hasDraft(page.draft));
  /** @param {number} instant */
  return (instant) => {
    places.saved.textContent = savedAt(instant, true);
    tell(savedWords(new Date(instant)), "saved");
  };
}

/**
 * @param {OpenVisit} open
 * @param {OpenCards} cards
 * @param {Notebook} notebook
 */
export function createPageWriter(open, cards, notebook) {
  const { page } = open;
  const { capture, tell } = notebook;
  /** @param {unknown} error */
  const failed = (error) => tell(faultWords(error), "wrong");
  const tellSaved = createSavedLine(page, notebook);
  /** @param {number} instant */
  const stored = (instant) => {
    tellSaved(instant);
    notebook.stored();
    notebook.sendSoon();
  };
  const keepDraft = () => capture.keepDraft(page);
  const autosave = createAutosave({ keepDraft, onKept: tellSaved, onFault: failed });

  async function catchUp() {
    if (!open.stale) return;
    await capture.renew(page);
    open.stale = false;
  }

  // Others changed this visit. While a person types, the page stays as they see it, and so does what they build on.
  async function renew() {
    open.stale = true;
    await notebook.lifted();
    const { page: place } = notebook.places;
    if (place.contains(place.ownerDocument.activeElement) || open.closed) return;
    await catchUp();
    open.draw();
  }

  // Does `work`; true when all of it is kept, false when it failed, or says it did, and that was told.
  /** @param {() => Promise<boolean | void>} work */
  async function tried(work) {
    try {
      return (await work()) !== false;
    } catch (error) {
      failed(error);
      return false;
    }
  }

  // Writes the step's operations; true when everything that could be written is written, and the rest is in the draft.
  const leave = () =>
    tried(async () => {
      const instant = await keepStep(capture, page, open.step);
      await catchUp();
      await cards.identify();
      const whole = !hasDraft(page.draft) || (await autosave.flush());
      if (!hasDraft(page.draft)) autosave.settled();
      if (instant !== null && whole) stored(instant);
      return whole;
    });

  /** @param {OpBody[]} bodies */
  const write = (bodies) => tried(async () => stored(await capture.write(page, bodies)));

  return { leave, write, renew, tried, failed, stored, autosave };
}
