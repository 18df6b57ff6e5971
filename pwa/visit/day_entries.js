// The visits of the day's page: every visit on this phone, newest first, with its view, its draft, or both.

import { hasDraft } from "./visit_model.js";

/** @param {Outbox} outbox @returns {Promise<DayEntry[]>} */
export async function dayEntries(outbox) {
  const [views, drafts] = [await outbox.visits(), await outbox.drafts()];
  /** @type {string[]} */
  const quick = (await outbox.recall("quick")) ?? [];
  /** @type {Map<string, DayEntry>} */
  const entries = new Map();
  for (const view of views) {
    entries.set(view.id, { id: view.id, view, startedAt: view.visit.started_at, quick: quick.includes(view.id) });
  }
  for (const draft of drafts.filter(hasDraft)) {
    entries.set(draft.visit, { id: draft.visit, startedAt: draft.started_at, ...entries.get(draft.visit), draft });
  }
  return [...entries.values()].sort((one, other) => (one.startedAt < other.startedAt ? 1 : -1));
}
