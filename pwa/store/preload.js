// What every start waits for, begun before the rest of the page, as app.js imports it first: rulebook, words and store.
// It begins, and awaits nothing: what fails is told by whoever waits for it, in app.js.

import { chosen } from "../language/chosen.js";
import { rulebookOfPage, wordsOfPage } from "../sync/client.js";
import { newDevice } from "../sync/identity.js";
import { openOutbox } from "./outbox.js";

export const outbox = openOutbox();

export const begun = {
  rulebook: rulebookOfPage(),
  words: wordsOfPage(chosen(navigator.languages)),
  settings: outbox.recall("settings"),
  device: outbox.recall("device").then((name) => name ?? outbox.recallOrMake("device", newDevice)),
};

// A failure before app.js runs is kept for it, not reported as one that nobody looks after.
for (const promise of Object.values(begun)) promise.catch(() => undefined);
