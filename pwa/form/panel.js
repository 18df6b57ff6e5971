// A panel from below, over the page: opened by a key, closed by its own key, by Escape or by what was chosen in it.
// DOM only.

import { el } from "./elements.js";

/**
 * @param {string} label what it is, read aloud
 * @param {...(Child | Child[])} children
 */
export function openPanel(label, ...children) {
  /** @type {HTMLDialogElement} */
  const dialog = el(
    "dialog", { class: "panel", "aria-label": label, on: { close: () => dialog.remove() } }, ...children,
  );
  document.body.append(dialog);
  dialog.showModal();
  return dialog;
}
