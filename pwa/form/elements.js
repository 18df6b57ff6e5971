// Builds elements from plain data: text is always text, never markup.
// It knows no visit and no store.

const SVG = "http://www.w3.org/2000/svg";

/**
 * @template {HTMLElement | SVGElement} E
 * @param {E} node
 * @param {Attributes | null} attributes
 * @param {(Child | Child[])[]} children
 */
function dress(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name === "on") for (const [event, handler] of Object.entries(attributes?.on ?? {})) node.addEventListener(event, handler);
    else if (name === "value" || name === "checked") Object.assign(node, { [name]: value });
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children.flat()) if (child !== null && child !== undefined && child !== false) node.append(child);
  return node;
}

/**
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag
 * @param {Attributes | null} [attributes]
 * @param {...(Child | Child[])} children
 * @returns {HTMLElementTagNameMap[T]}
 */
export const el = (tag, attributes = null, ...children) => dress(document.createElement(tag), attributes, children);

/**
 * An element of a drawing.
 *
 * @template {keyof SVGElementTagNameMap} T
 * @param {T} tag
 * @param {Attributes | null} [attributes]
 * @param {...(Child | Child[])} children
 * @returns {SVGElementTagNameMap[T]}
 */
export const drawn = (tag, attributes = null, ...children) =>
  dress(document.createElementNS(SVG, tag), attributes, children);

/**
 * Words folded under one line, opened with a tap.
 *
 * @param {string} title
 * @param {(Child | Child[])[]} parts
 * @param {string | null} [line]
 */
export function folded(title, parts, line = null) {
  const turn = el("span", { class: "turn" }, "open");
  const turned = (event) => say(turn, event.target.open ? "fold away" : "open");
  const summary = el("summary", null, el("b", null, title), line && el("span", { class: "meaning" }, line), turn);
  return el("details", { class: "held", on: { toggle: turned } }, summary, parts);
}

let count = 0;

/** @param {string} name */
export function freshId(name) {
  count += 1;
  return `${name}-${count}`;
}

/**
 * Sets the text of a node only where it differs, so that a screen reader is not told the same thing twice.
 *
 * @param {Node} node
 * @param {string} text
 */
export function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/** @param {string} label @param {(event: MouseEvent) => unknown} press @param {Attributes} [attributes] */
export const button = (label, press, attributes = {}) =>
  el("button", { type: "button", ...attributes, on: { click: press } }, label);
