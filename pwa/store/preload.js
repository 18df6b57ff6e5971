// What every start waits for, begun before the rest of the page, as app.js imports it first: rulebook, words and store.
// It starts them and awaits nothing; app.js, which waits for them, reports failures.

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

// A failure before app.js runs is kept for it, not reported as unhandled.
for (const promise of Object.values(begun)) promise.catch(() => undefined);
