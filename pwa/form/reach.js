// Leads to a field or list entry on the screen: unfolds what it stands in, brings it to the middle, takes the focus.
// DOM only; a place that is not asked at the moment is left alone.

/** Names the part of a form that asks for something. @param {HTMLElement} root @param {string} name */
export function named(root, name) {
  root.dataset.path = name;
  return root;
}

/** @param {string} name a field's path joined by points, or "list/slot" of an entry */
export function reachField(name) {
  const root = [...document.querySelectorAll("[data-path]")]
    .find((one) => /** @type {HTMLElement} */ (one).dataset.path === name);
  if (root === undefined) return;
  for (let fold = root.closest("details"); fold !== null; fold = fold.parentElement?.closest("details") ?? null) {
    fold.open = true;
  }
  root.scrollIntoView({ block: "center" });
  const control = /** @type {HTMLElement | null} */ (root.querySelector("input, textarea, select, button"));
  control?.focus({ preventScroll: true });
}
