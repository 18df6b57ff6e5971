// Shown instead of a visit that another tab has open: it says so, and takes the visit over when told to.
// DOM only: which tab has the visit is known by visit/one_tab.js.

import { button, el, replace, showHead } from "./elements.js";
import { say } from "../language/words.js";

/**
 * @param {Places} places
 * @param {{takeOver: () => unknown, home: () => unknown}} actions
 */
export function elsewhereScreen(places, { takeOver, home }) {
  showHead(places, el("p", { class: "context" }), el("h1", null, say("phone.elsewhere.title")));
  places.page.className = "elsewhere";
  replace(places.page, el("p", { class: "finding" }, say("phone.elsewhere.words")),
    button(say("phone.page.back"), home, { class: "quiet" }));
  replace(places.foot, button(say("phone.elsewhere.take"), takeOver, { class: "main" }), places.status);
}
