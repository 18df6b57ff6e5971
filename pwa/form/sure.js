// What cannot be taken back, asked twice: a key, and in its place the words of what goes, a yes and a way out.
// DOM only; what the yes does is an action.

import { button, el } from "./elements.js";

/** @param {{ask: string, words: string, yes: string, no: string}} words @param {() => unknown} act */
export function askedTwice({ ask, words, yes, no }, act) {
  const first = el("div", { class: "sure" }, button(ask, () => turn(second, ".main-of-two"), { class: "quiet" }));
  const ways = el("div", { class: "ways" }, button(yes, act, { class: "quiet" }), button(no, () => turn(first, "button"), { class: "quiet main-of-two" }));
  const second = el("div", { class: "sure" }, el("p", { class: "sentence" }, words), ways);
  const root = el("div", null, first);
  /**
   * The focus goes to the harmless key, so that a second tap on the same spot or a stray Enter removes nothing.
   *
   * @param {Element} next
   * @param {string} key
   */
  function turn(next, key) {
    root.replaceChildren(next);
    next.querySelector(key).focus();
  }
  return root;
}
