// A place to sign: strokes drawn with a finger, smooth on the screen, kept as places in a 300 by 120 field.
// DOM only; what the signature binds and where it is kept is the caller's.

import { button, drawn, el, folded, freshId } from "./elements.js";
import { helpKey } from "./help.js";
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

/** @param {{at?: string, name?: string}} signature */
const signedWords = ({ at = "", name = "" }) =>
  say(name === "" ? "phone.signature.signed" : "phone.signature.signed_by", { name, clock: clock(new Date(at)) });

/** @param {{name?: string}} signature */
const labelOf = ({ name = "" }) =>
  say(name === "" ? "phone.signature.of_customer" : "phone.signature.of", { name });

/**
 * `sign(name, strokes)` is called once a person keeps the signature; what is signed already is shown with its time.
 *
 * @param {Visit} visit
 * @param {(name: string, strokes: number[][]) => unknown} sign
 */
export function signatureForm(visit, sign) {
  const { signature, customer } = visit;
  const past = signature && [
    sheetOf(/** @type {number[][]} */ (signature.strokes ?? []), labelOf(signature)),
    el("p", { class: "meaning" }, signedWords(signature)),
  ];
  const id = freshId("signer");
  const name = el("input", {
    id, class: "written", type: "text", autocomplete: "off", maxlength: "200", value: customer?.name ?? "",
  });
  const { sheet, strokes, clear } = pad();
  const keep = () => strokes.length > 0 && sign(name.value.trim(), strokes);
  const keepKey = button(say("phone.signature.keep"), keep, { class: "quiet" });
  const clearKey = button(say("phone.signature.clear"), clear, { class: "quiet" });
  const ways = el("div", { class: "ways" }, keepKey, clearKey, helpKey("key", "signature"));
  const field = el("div", { class: "field" }, el("label", { for: id }, say("phone.signature.who")), name);
  const title = say(signature ? "phone.signature.again" : "phone.signature.title");
  return el("section", null, past, folded(title, [field, sheet, ways]));
}
