// What every start waits for, begun before the rest of the page, as app.js imports it first: rulebook and store.
// It begins, and awaits nothing: what fails is told by whoever waits for it, in app.js.

import { rulebookOfPage } from "../sync/client.js";
import { newDevice } from "../sync/identity.js";
import { openOutbox } from "./outbox.js";

export const outbox = openOutbox();

export const begun = {
  rulebook: rulebookOfPage(),
  settings: outbox.recall("settings"),
  device: outbox.recall("device").then((name) => name ?? outbox.recallOrMake("device", newDevice)),
};

// A failure before app.js runs is kept for it, not reported as one that nobody looks after.
for (const promise of Object.values(begun)) promise.catch(() => undefined);
