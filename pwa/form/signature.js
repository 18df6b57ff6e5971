// A place to sign: strokes drawn with a finger, smooth on the screen, kept as places in a 300 by 120 field.
// DOM only; what the signature binds and where it is kept is the caller's.

import { button, drawn, el, folded, freshId, replace, setText } from "./elements.js";
import { helpKey } from "./help.js";
import { chargedOf, digitsOf, exactSum } from "./price.js";
import { changedNotice, changedSince, workWords } from "./signed.js";
import { clock } from "../language/formats.js";
import { say } from "../language/words.js";

const WIDTH = 300;
const HEIGHT = 120;
const MOST_STROKES = 400;

/**
 * A stroke, [x, y, x, y, ...], as a smooth path: through the middles, bent by the places themselves.
 *
 * @param {number[]} stroke
 */
export function pathOf(stroke) {
  if (stroke.length < 4) return `M${stroke[0]} ${stroke[1]}h1`;
  let path = `M${stroke[0]} ${stroke[1]}`;
  for (let i = 2; i + 3 < stroke.length; i += 2) {
    path += `Q${stroke[i]} ${stroke[i + 1]} ${(stroke[i] + stroke[i + 2]) / 2} ${(stroke[i + 1] + stroke[i + 3]) / 2}`;
  }
  return `${path}L${stroke.at(-2)} ${stroke.at(-1)}`;
}

/** @param {number[]} stroke */
const inkOf = (stroke) => drawn("path", { class: "ink", d: pathOf(stroke) });

/** @param {number[][]} strokes @param {string} label */
const sheetOf = (strokes, label) =>
  drawn("svg", { class: "sign-here", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": label },
    drawn("path", { class: "zero", d: `M12 ${HEIGHT - 24}H${WIDTH - 12}` }), strokes.map(inkOf));

/** @param {number} number */
const tenth = (number) => Math.round(number * 10) / 10;

/** @param {MouseEvent} event @param {Element} sheet */
function placeOf(event, sheet) {
  const box = sheet.getBoundingClientRect();
  const x = ((event.clientX - box.left) * WIDTH) / box.width;
  const y = ((event.clientY - box.top) * HEIGHT) / box.height;
  return [tenth(x), tenth(y)];
}

function pad() {
  /** @type {number[][]} */
  const strokes = [];
  const sheet = sheetOf([], say("phone.signature.here"));
  sheet.classList.add("open");
  /** @type {{stroke: number[], path: SVGPathElement} | null} */
  let pen = null;
  sheet.addEventListener("pointerdown", (event) => {
    if (strokes.length >= MOST_STROKES) return;
    sheet.setPointerCapture(event.pointerId);
    const stroke = placeOf(event, sheet);
    strokes.push(stroke);
    pen = { stroke, path: inkOf(stroke) };
    sheet.append(pen.path);
  });
  sheet.addEventListener("pointermove", (event) => {
    if (pen === null) return;
    for (const one of event.getCoalescedEvents?.() ?? [event]) pen.stroke.push(...placeOf(one, sheet));
    pen.path.setAttribute("d", pathOf(pen.stroke));
  });
  const lift = () => {
    pen = null;
  };
  sheet.addEventListener("pointerup", lift);
  sheet.addEventListener("pointercancel", lift);
  const clear = () => {
    strokes.length = 0;
    sheet.querySelectorAll(".ink").forEach((one) => one.remove());
  };
  return { sheet, strokes, clear };
}

/** @param {NonNullable<Visit["signature"]>} signature @param {string} sum */
function signedWords({ at = "", name = "" }, sum) {
  const values = { name, clock: clock(new Date(at)), sum };
  if (sum === "") return say(name === "" ? "phone.signature.signed" : "phone.signature.signed_by", values);
  return say(name === "" ? "phone.signature.signed_for" : "phone.signature.signed_by_for", values);
}

/** @param {{name?: string}} signature */
const labelOf = ({ name = "" }) =>
  say(name === "" ? "phone.signature.of_customer" : "phone.signature.of", { name });

/** What a person signs for: the work in words, and the sum in large figures. */
function boundPart() {
  const work = el("p", { class: "sentence" });
  const [figure, about] = [el("b"), el("span")];
  const sum = el("p", { class: "sum" }, figure, " ", about);
  /** @param {Visit} visit @param {Rulebook} rulebook */
  const show = (visit, rulebook) => {
    setText(work, workWords(visit) || say("phone.signature.no_work"));
    const charged = chargedOf(visit, rulebook);
    sum.hidden = charged === null;
    if (charged === null) return;
    const { shown, currency, bill } = charged;
    setText(figure, shown);
    setText(about, say(bill.taxes.length > 0 ? "phone.signature.taxed" : "phone.signature.untaxed", { currency }));
  };
  return { root: el("div", null, el("p", { class: "meaning" }, say("phone.signature.for")), work, sum), show };
}

/** A signature as it was given, with its time and sum. @param {Visit} visit @param {Rulebook} rulebook */
function pastPart(visit, rulebook) {
  const { signature } = visit;
  if (signature === undefined) return [];
  const written = signature.sum === undefined
    ? "" : exactSum(signature.sum, digitsOf(visit.currency ?? "", rulebook));
  return [
    sheetOf(/** @type {number[][]} */ (signature.strokes ?? []), labelOf(signature)),
    el("p", { class: "meaning" }, signedWords(signature, written)),
  ];
}

/**
 * `sign(name, strokes)` is called once a person keeps the signature; what is signed already is shown with its time and
 * sum if nothing has changed since, otherwise what has changed and the ways on.
 *
 * @param {Page} page
 * @param {Sight} sight
 * @param {Tools} tools
 * @param {{sign: (name: string, strokes: number[][]) => unknown, goBack: () => unknown}} actions
 * @returns {Part}
 */
export function signatureForm(page, sight, tools, { sign, goBack }) {
  const { signature, customer } = sight.visit;
  const { rulebook } = tools;
  const id = freshId("signer");
  const name = el("input", {
    id, class: "written", type: "text", autocomplete: "off", maxlength: "200", value: customer?.name ?? "",
  });
  const { sheet, strokes, clear } = pad();
  const keep = () => strokes.length > 0 && sign(name.value.trim(), strokes);
  const keepKey = button(say("phone.signature.keep"), keep, { class: "main" });
  const clearKey = button(say("phone.signature.clear"), clear, { class: "quiet" });
  const ways = el("div", { class: "ways" }, clearKey, helpKey("key", "signature"));
  const field = el("div", { class: "field" }, el("label", { for: id }, say("phone.signature.who")), name);
  const title = say(signature ? "phone.signature.again" : "phone.signature.title");
  const bound = boundPart();
  const note = el("p", { class: "meaning" }, say("phone.signature.kept"));
  const form = folded(title, [bound.root, field, sheet, ways, keepKey, note]);
  const past = el("div");
  let shown = "";

  /** @param {Pick<Sight, "visit">} at_the_moment */
  const refresh = ({ visit }) => {
    bound.show(visit, rulebook);
    const changed = changedSince(visit, rulebook);
    const state = [visit.signature?.at ?? "", ...changed, chargedOf(visit, rulebook)?.sum ?? ""].join(" ");
    // Redrawn only if it changed, so that no key disappears from under a finger.
    const now = `${state} ${page.own?.left === state}`;
    if (now === shown) return;
    shown = now;
    const again = () => {
      form.open = true;
      form.scrollIntoView({ block: "start" });
    };
    const leave = () => {
      tools.note({ left: state });
      refresh({ visit });
    };
    if (changed.length === 0) past.replaceChildren(...pastPart(visit, rulebook));
    else if (page.own?.left === state) past.replaceChildren(el("p", { class: "bar" }, say("phone.signature.left")));
    else replace(past, changedNotice(page, visit, rulebook, { again, back: goBack, leave }));
  };
  return { root: el("section", null, past, form), refresh };
}
