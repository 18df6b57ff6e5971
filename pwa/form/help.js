// A small key beside a label, and the help text behind it: what a thing is, how it is done, what spoils it.
// DOM only: texts and figures come from the help that the phone keeps; which unit a figure is read in is the reader's.

import { from_canonical } from "../kernel.js";
import { button, el } from "./elements.js";
import { significant } from "../language/formats.js";
import { filled, say, term, unitWord } from "../language/words.js";
import { sentenceCase } from "./words.js";

/** @typedef {{quantity: string, value: number[]}} Figure */
/** @typedef {Record<string, Record<string, Record<string, string>>>} HelpTexts by kind, code and part */
/** @typedef {{text: HelpTexts, figures: Record<string, Figure>, also: Record<string, string[]>}} HelpFile */
/** @typedef {() => Promise<HelpFile | undefined>} Reading */
/** @typedef {{rulebook: Rulebook, unitOf: (quantity: string) => string, read: Reading}} Shelf */

const PARTS = ["what", "how", "spoils", "normal"];
// Fields with help besides a test's conditions and readings, by path.
const OTHERS = [
  "place.altitude_m", "place.station_pressure_kpa", "low_kpa_g", "high_kpa_g", "hours_off", "metal_c", "air_c",
  "pressure_pa", "held_min", "rise_pa", "air_pct", "cleaner.dwell_min",
];
/** @type {Record<string, string>} */
const CLOCKS = { running: "engine_timer", rinsed: "rinsed" };

/** @type {Shelf | null} */
let shelf = null;

/** Says where help is read; until then there are no keys. @param {Shelf} one */
export function useHelp(one) {
  shelf = one;
}

/**
 * A figure, or a range of them, as this reader reads it: no more exact than what it was made from.
 *
 * @param {Figure} figure
 * @param {Shelf} about
 */
function figureWords({ quantity, value }, { rulebook, unitOf }) {
  const unit = unitOf(quantity.replace("_difference", ""));
  const [low, high] = value.map((one) => significant(unit ? from_canonical(quantity, unit, one, rulebook) : one));
  const label = unit ? unitWord(quantity, unit) : say(`terms.help.unit.${quantity}`);
  return `${high === undefined ? low : say("terms.help.range", { low, high })}\u00a0${label}`;
}

/**
 * The parts of one text, each under its heading.
 *
 * @param {Record<string, string>} text
 * @param {HelpFile} file
 * @param {Shelf} about
 */
function partsOf(text, file, about) {
  const figures = Object.entries(file.figures).map(([name, figure]) => [name, figureWords(figure, about)]);
  const values = Object.fromEntries(figures);
  return el("dl", null, PARTS.filter((part) => text[part]).flatMap((part) =>
    [el("dt", null, say(`terms.help.${part}`)), el("dd", null, filled(text[part], values, part))]));
}

/**
 * The text asked for, and those of what is derived from a reading; or that there is none yet.
 *
 * @param {string} kind
 * @param {string} code
 * @param {HelpFile | undefined} file
 * @param {Shelf} about
 */
function body(kind, code, file, about) {
  if (file?.text[kind][code] === undefined) return [el("p", { class: "sentence" }, say("terms.help.later"))];
  const texts = file.text[kind];
  const also = (kind === "quantity" && file.also[code]) || [];
  const more = also.flatMap((name) =>
    [el("h2", null, sentenceCase(term("derived", name))), partsOf(texts[name], file, about)]);
  return [partsOf(texts[code], file, about), ...more];
}

/** @param {string} kind @param {string} code @param {string} title @param {Shelf} about */
async function show(kind, code, title, about) {
  const file = await about.read().catch(() => undefined);
  /** @type {HTMLDialogElement} */
  const dialog = el(
    "dialog", { class: "help-text", "aria-label": title, on: { close: () => dialog.remove() } },
    el("h2", { tabindex: "-1", autofocus: true }, title), ...body(kind, code, file, about),
    button(say("terms.help.close"), () => dialog.close(), { class: "main" }),
  );
  document.body.append(dialog);
  dialog.showModal();
}

/**
 * The key that shows the help for a code; null where this page has none.
 *
 * @param {"quantity" | "cause" | "check" | "key"} kind
 * @param {string} code
 * @param {string} [name] what it is called; what a key of the page is about has a name of its own
 */
export function helpKey(kind, code, name) {
  if (shelf === null) return null;
  const about = shelf;
  const title = name ?? say(`terms.help.of.${code}`);
  const label = say("terms.help.name", { name: title });
  const press = () => show(kind, code, title, about);
  return button("", press, { class: "help", "aria-label": label });
}

/** The same for a clock, by its kind; null for one whose field says it all. @param {string} kind */
export const clockHelp = (kind) => (CLOCKS[kind] ? helpKey("key", CLOCKS[kind]) : null);

/** A key of the page with its help beside it. @param {HTMLElement | null} node @param {string} code */
export const withHelp = (node, code) => node && el("div", { class: "helped" }, node, helpKey("key", code));

/**
 * A field with its help at its label, where the field has some.
 *
 * @template {{root: HTMLElement}} P
 * @param {P} part
 * @param {Field} field
 * @returns {P}
 */
export function fieldWithHelp(part, field) {
  const known = ["conditions", "readings"].includes(field.path[0]) || OTHERS.includes(field.path.join("."));
  const key = known && helpKey("quantity", field.path.at(-1) ?? "", field.label);
  if (key) (part.root.querySelector(".choices") ?? part.root).append(key);
  return part;
}
