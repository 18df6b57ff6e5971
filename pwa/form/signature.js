// A place to sign: strokes drawn with a finger, smooth on the screen, kept as places in a 300 by 120 field.
// DOM only; what the signature binds and where it is kept is the caller's.

import { button, drawn, el, folded, freshId } from "./elements.js";
import { clock } from "./words.js";

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

/** @param {number[][]} strokes @param {string} label */
const sheetOf = (strokes, label) =>
  drawn("svg", { class: "sign-here", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": label },
    drawn("path", { class: "zero", d: `M12 ${HEIGHT - 24}H${WIDTH - 12}` }), strokes.map((stroke) => drawn("path", { class: "ink", d: pathOf(stroke) })));

/** @param {number} number */
const tenth = (number) => Math.round(number * 10) / 10;

/** @param {MouseEvent} event @param {Element} sheet */
function placeOf(event, sheet) {
  const box = sheet.getBoundingClientRect();
  return [tenth(((event.clientX - box.left) * WIDTH) / box.width), tenth(((event.clientY - box.top) * HEIGHT) / box.height)];
}

function pad() {
  const strokes = [];
  const sheet = sheetOf([], "Sign here with a finger");
  sheet.classList.add("open");
  let path = null;
  sheet.addEventListener("pointerdown", (event) => {
    if (strokes.length >= MOST_STROKES) return;
    sheet.setPointerCapture(event.pointerId);
    strokes.push(placeOf(event, sheet));
    path = drawn("path", { class: "ink", d: pathOf(strokes.at(-1)) });
    sheet.append(path);
  });
  sheet.addEventListener("pointermove", (event) => {
    if (path === null) return;
    for (const one of event.getCoalescedEvents?.() ?? [event]) strokes.at(-1).push(...placeOf(one, sheet));
    path.setAttribute("d", pathOf(strokes.at(-1)));
  });
  const lift = () => (path = null);
  sheet.addEventListener("pointerup", lift);
  sheet.addEventListener("pointercancel", lift);
  const clear = () => {
    strokes.length = 0;
    sheet.querySelectorAll(".ink").forEach((one) => one.remove());
  };
  return { sheet, strokes, clear };
}

/**
 * `sign(name, strokes)` is called once a person keeps the signature; what is signed already is shown with its time.
 *
 * @param {Visit} visit
 * @param {(name: string, strokes: number[][]) => unknown} sign
 */
export function signatureForm(visit, sign) {
  const kept = visit.signature;
  const shown = kept && [
    sheetOf(kept.strokes ?? [], `Signature of ${kept.name ?? "the customer"}`),
    el("p", { class: "meaning" }, `Signed ${kept.name ? `by ${kept.name} ` : ""}at ${clock(new Date(kept.at))}.`),
  ];
  const id = freshId("signer");
  const name = el("input", { id, class: "written", type: "text", autocomplete: "off", maxlength: "200", value: visit.customer?.name ?? "" });
  const { sheet, strokes, clear } = pad();
  const keep = () => strokes.length > 0 && sign(name.value.trim(), strokes);
  const ways = el("div", { class: "ways" }, button("Keep the signature", keep, { class: "quiet" }), button("Clear", clear, { class: "quiet" }));
  const fresh = folded(kept ? "Sign again" : "Signature", []);
  fresh.append(el("div", { class: "field" }, el("label", { for: id }, "Who signs"), name), sheet, ways);
  return el("section", null, shown, fresh);
}
