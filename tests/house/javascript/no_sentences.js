// A house rule: what a person reads is kept in the rulebook's words and used by its code.
// It refuses strings of two or more words, and any word that is shown; codes, selectors and styles are exempt.

const SENTENCE = /\p{L}{2,}[^\p{L}\n]*\s[^\p{L}\n]*\p{L}{2,}/u;
const WORD = /\p{L}/u;

// Functions that show their arguments: the first shown, and the first no longer shown.
const SHOWING = {
  el: [2, Infinity], drawn: [2, Infinity], button: [0, 1], folded: [0, 1], foldedParts: [0, 1], headingOf: [0, 1],
  setText: [1, 2], tell: [0, 1], note: [0, 1], append: [0, Infinity],
};
// Properties and attributes that are shown or spoken.
const SHOWN = new Set([
  "label", "note", "suffix", "title", "alt", "placeholder", "aria-label", "textContent", "innerText", "ask", "words",
  "yes", "no", "empty",
]);
// Attributes that hold several names, paths or forms but no words.
const UNREAD = new Set([
  "class", "className", "d", "viewBox", "aria-describedby", "accept", "Content-Type", "content", "type",
]);
// Functions that take selectors, or whose text is for maintainers.
const APART = /^(querySelector(All)?|closest|matches|warn|error|RegExp)$|(Error|Fault)$/;

/** Nodes through which a string reaches a call or a property, chosen or put together. */
const THROUGH = new Set(["ConditionalExpression", "LogicalExpression", "TemplateLiteral", "ArrayExpression"]);

const nameOf = (node) => node?.property?.name ?? node?.name;
const keyOf = ({ key }) => key?.name ?? key?.value;

/** The node that uses a string, and the part of it that the string belongs to. */
function useOf(node) {
  let part = node;
  while (THROUGH.has(part.parent.type) && part.parent.test !== part) part = part.parent;
  return { user: part.parent, part };
}

/** "shown" if a person reads it, "apart" if nobody does, else "". */
function placeOf(node) {
  const { user, part } = useOf(node);
  if (/^(Import|Export)/.test(user.type)) return "apart";
  if (user.type === "CallExpression" || user.type === "NewExpression") {
    const name = nameOf(user.callee);
    if (APART.test(name ?? "")) return "apart";
    const [from, to] = SHOWING[name] ?? [Infinity, 0];
    const place = user.arguments.indexOf(part);
    return place >= from && place < to ? "shown" : "";
  }
  const name = user.type === "Property" || user.type === "PropertyDefinition"
    ? (user.key === part ? undefined : keyOf(user))
    : user.type === "AssignmentExpression" && nameOf(user.left);
  if (SHOWN.has(name)) return "shown";
  return UNREAD.has(name) || (user.type === "Property" && user.key === part) ? "apart" : "";
}

export default {
  meta: {
    type: "problem",
    schema: [{ type: "array", items: { type: "string" } }],
    messages: { sentence: "{{text}}: what a person reads is taken by its code, say(\"phone...\"); see pwa/README.md" },
  },
  create(context) {
    const [allowed = []] = context.options;
    const look = (node, text) => {
      const place = placeOf(node);
      if (place === "apart" || allowed.includes(text)) return;
      if ((place === "shown" ? WORD : SENTENCE).test(text)) {
        context.report({ node, messageId: "sentence", data: { text: JSON.stringify(text) } });
      }
    };
    return {
      Literal: (node) => typeof node.value === "string" && look(node, node.value),
      TemplateElement: (node) => look(node.parent, node.value.cooked ?? ""),
    };
  },
};
