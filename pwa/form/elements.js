// Builds elements from plain data: text is always text, never markup.
// It knows no visit and no store.

import { say } from "../language/words.js";

const SVG = "http://www.w3.org/2000/svg";
const SEPARATOR = " \u00b7 ";

/**
 * @template {HTMLElement | SVGElement} E
 * @param {E} node
 * @param {Attributes | null} attributes
 * @param {(Child | Child[])[]} children
 */
function dress(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name === "on") continue;
    if (name === "value" || name === "checked") Object.assign(node, { [name]: value });
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  for (const [event, handler] of Object.entries(attributes?.on ?? {})) node.addEventListener(event, handler);
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
 * Gives a node these children in place of those it had. One that it has already stays where it is, and keeps the focus.
 *
 * @param {Element} node
 * @param {...Child} children empty ones are left out
 */
export function replace(node, ...children) {
  const wanted = children.filter((child) => child !== null && child !== undefined && child !== false);
  for (const one of [...node.childNodes]) if (!wanted.includes(one)) one.remove();
  let at = node.firstChild;
  for (const child of wanted) {
    if (child === at) at = at.nextSibling;
    else if (at === null) node.append(child);
    else at.before(child);
  }
}

/**
 * The top of a screen: its title, a line of context under it, and a way elsewhere.
 *
 * @param {Places} places
 * @param {HTMLElement} context
 * @param {HTMLElement} title
 * @param {HTMLElement} [way]
 */
export function showHead(places, context, title, way) {
  replace(places.head, el("div", { class: "headline" }, el("div", null, title, context), way));
}

/**
 * Words folded under one line, opened with a tap.
 *
 * @param {string} title
 * @param {(Child | Child[])[]} parts
 * @param {string | null} [line]
 */
export function folded(title, parts, line = null) {
  const turn = el("span", { class: "turn" }, say("phone.page.open"));
  const summary = el("summary", null, el("b", null, title), line && el("span", { class: "meaning" }, line), turn);
  const root = el("details", { class: "held" }, summary, ...parts);
  root.addEventListener("toggle", () => setText(turn, say(root.open ? "phone.page.close" : "phone.page.open")));
  return root;
}

let count = 0;

/** @param {string} name */
export function freshId(name) {
  count += 1;
  return `${name}-${count}`;
}

/**
 * Sets the text of a node only if it differs, so that a screen reader is not told the same thing twice.
 *
 * @param {Node} node
 * @param {string} text
 */
export function setText(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/** @param {string} label @param {(event: MouseEvent) => unknown} press @param {Attributes} [attributes] */
export const button = (label, press, attributes = {}) =>
  el("button", { type: "button", ...attributes, on: { click: press } }, label);

/**
 * What can't be undone, asked twice: a key, then in its place what will be lost, a yes and a way out.
 *
 * @param {{ask: string, words: string, yes: string, no: string}} words
 * @param {() => unknown} act
 */
export function askedTwice({ ask, words, yes, no }, act) {
  const first = el("div", { class: "sure" }, button(ask, () => turn(second, way), { class: "quiet" }));
  const way = button(no, () => turn(first, first.querySelector("button")), { class: "quiet" });
  const ways = el("div", { class: "ways" }, button(yes, act, { class: "quiet" }), way);
  const second = el("div", { class: "sure" }, el("p", { class: "sentence" }, words), ways);
  const root = el("div", null, first);
  /**
   * The focus goes to the harmless key, so that a second tap on the same spot or a stray Enter removes nothing.
   *
   * @param {HTMLElement} next
   * @param {HTMLElement | null} key
   */
  function turn(next, key) {
    root.replaceChildren(next);
    key?.focus();
  }
  return root;
}

/**
 * Parts folded into one line that says what they hold. `words()` returns the line's words.
 *
 * @param {string} title
 * @param {Part[]} parts
 * @param {() => string[]} words
 * @param {boolean} open
 * @param {"change" | "open"} [way] what the key is called while they are folded
 * @returns {Part}
 */
export function foldedParts(title, parts, words, open, way = "change") {
  const line = el("span", { class: "meaning" });
  const turn = el("span", { class: "turn" });
  const root = el("details", { class: "held", open });
  const turned = () => (turn.textContent = say(root.open ? "phone.page.close" : `phone.page.${way}`));
  root.addEventListener("toggle", turned);
  root.append(el("summary", null, el("b", null, title), line, turn), ...parts.map((part) => part.root));
  turned();
  /** @param {Sight} sight */
  const refresh = (sight) => {
    line.textContent = words().join(SEPARATOR);
    parts.forEach((part) => part.refresh(sight));
  };
  return { root, refresh };
}
