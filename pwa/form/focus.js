// Typing goes on when a screen is redrawn under a person's fingers: the focus goes to the same field.
// DOM only; what is in the field is kept elsewhere.

/** The words that name a control. @param {Element | null} one */
const nameOf = (one) =>
  (one instanceof HTMLInputElement || one instanceof HTMLTextAreaElement) && one.labels?.[0]?.textContent;

/** @param {HTMLElement} root @param {string} name */
const named = (root, name) => [...root.querySelectorAll("input, textarea")].filter((one) => nameOf(one) === name);

/**
 * Does `draw` and gives the focus back to the field that had it, with the caret where it stood.
 *
 * @param {HTMLElement} root
 * @param {() => void} draw
 */
export function keepFocus(root, draw) {
  const at = document.activeElement;
  const name = root.contains(at) && nameOf(at);
  const place = name ? named(root, name).indexOf(/** @type {Element} */ (at)) : -1;
  const { selectionStart = null, selectionEnd = null } = /** @type {Partial<HTMLInputElement>} */ (at ?? {});
  draw();
  if (!name) return;
  const next = /** @type {HTMLInputElement | undefined} */ (named(root, name)[place]);
  if (next === undefined || next.offsetParent === null) return;
  next.focus({ preventScroll: true });
  if (selectionStart !== null) next.setSelectionRange(selectionStart, selectionEnd);
}
