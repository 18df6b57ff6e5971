// Builds elements from plain data: text is always text, never markup.
// It knows no visit and no store.

const SVG = "http://www.w3.org/2000/svg";

function dress(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name === "on") for (const [event, handler] of Object.entries(value)) node.addEventListener(event, handler);
    else if (name === "value" || name === "checked") node[name] = value;
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));
  return node;
}

export const el = (tag, attributes, ...children) => dress(document.createElement(tag), attributes, children);

export const drawn = (tag, attributes, ...children) => dress(document.createElementNS(SVG, tag), attributes, children);

// Words folded under one line, opened with a tap.
export function folded(title, parts, line = null) {
  const turn = el("span", { class: "turn" }, "open");
  const turned = (event) => say(turn, event.target.open ? "fold away" : "open");
  const summary = el("summary", null, el("b", null, title), line && el("span", { class: "meaning" }, line), turn);
  return el("details", { class: "held", on: { toggle: turned } }, summary, parts);
}

let count = 0;

export function freshId(name) {
  count += 1;
  return `${name}-${count}`;
}

// Sets the text of a node only where it differs, so that a screen reader is not told the same thing twice.
export function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

export const button = (label, press, attributes = {}) => el("button", { type: "button", ...attributes, on: { click: press } }, label);
