// The controls for one field each: a text, a choice of codes, yes or no, several codes, a number with its unit.
// DOM only: what is typed goes to `source.set`, what is shown comes from `source.get`; nothing is kept here.
// Every control is {root, refresh(sight)}; `sight` is what is known at the moment, see visit.js.

import { readNumber, unitOfText, valueOf } from "../visit/number_input.js";
import { number } from "../language/formats.js";
import { say, term, unitWord } from "../language/words.js";
import { button, el, freshId, setText } from "./elements.js";
import { fieldWithHelp } from "./help.js";
import { beside, typedFault } from "./words.js";

/**
 * The units that the settings offer.
 *
 * @type {Record<string, string[]>}
 */
export const OFFERED = {
  pressure: ["psi", "bar", "kpa"],
  temperature: ["c", "f"],
  altitude: ["m", "ft"],
  distance: ["km", "mi"],
  mass: ["g", "oz"],
  vacuum: ["pa", "micron"],
};

/**
 * A text written elsewhere (by a clock, a sum, a record) is shown unless somebody is typing.
 *
 * @param {HTMLInputElement | HTMLTextAreaElement} input
 * @param {string} text
 */
export function follow(input, text) {
  if (input !== document.activeElement && input.value !== text) input.value = text;
}

/** @param {string} id @param {Field} field */
const labelOn = (id, field) =>
  el(
    "div", { class: "name" },
    el("label", { for: id }, field.label),
    field.note ? el("span", { class: "aside" }, field.note) : null,
  );

/** How a phone's keyboard sets capitals. @param {Field} field */
function capitalsOf({ capitals, inputmode, names }) {
  if (capitals) return "characters";
  if (names) return "words";
  return inputmode === "email" ? "none" : "sentences";
}

/** @param {Field} field @param {Source} source @returns {Control} */
export function textField(field, source) {
  const id = freshId("text");
  const hint = el("p", { class: "meaning", id: `${id}-hint` });
  const attributes = {
    id, class: "written", autocomplete: field.autocomplete ?? "off", inputmode: field.inputmode,
    autocapitalize: capitalsOf(field), spellcheck: field.long ? undefined : "false",
    "aria-describedby": hint.id, value: source.get().text, maxlength: String(field.most ?? (field.long ? 4000 : 200)),
  };
  const input = field.long
    ? el("textarea", { ...attributes, rows: "3" })
    : el("input", { ...attributes, type: "text", enterkeyhint: "next", on: { keydown: goOn } });
  input.addEventListener("input", () => source.set({ text: input.value }));
  const root = el("div", { class: "field" }, labelOn(id, field), input, hint);
  /** @param {FieldSight} sight */
  const refresh = (sight) => {
    follow(input, source.get().text);
    setText(hint, sight.meaning(field, source.get()) ?? "");
  };
  return { root, refresh, field };
}

/**
 * A day by the phone's own picker; its text is YYYY-MM-DD or nothing.
 *
 * @param {Field} field
 * @param {Source} source
 * @returns {Control}
 */
export function dayField(field, source) {
  const id = freshId("day");
  const hint = el("p", { class: "meaning", id: `${id}-hint` });
  const input = el("input", {
    id, class: "written", type: "date", value: source.get().text, "aria-describedby": hint.id, max: "9999-12-31",
  });
  input.addEventListener("input", () => input.value.length <= 10 && source.set({ text: input.value }));
  /** @param {FieldSight} sight */
  const refresh = (sight) => {
    follow(input, source.get().text);
    setText(hint, sight.meaning(field, source.get()) ?? "");
  };
  return { root: el("div", { class: "field" }, labelOn(id, field), input, hint), refresh, field };
}

/**
 * @param {string} group
 * @param {string} label
 * @param {boolean} chosen
 * @param {() => void} press
 * @param {"radio" | "checkbox"} kind
 */
function option(group, label, chosen, press, kind) {
  const input = el("input", { type: kind, name: group, checked: chosen, on: { click: press } });
  return { input, root: el("label", { class: "choice" }, input, el("span", null, label)) };
}

/**
 * @param {string} label
 * @param {[code: string, words: string][]} options
 * @param {Source} source
 * @param {boolean} [required]
 */
function radios(label, options, source, required = false) {
  const group = freshId("choice");
  const choices = options.map(([code, words]) => {
    const one = option(group, words, source.get().text === code, () => pick(code), "radio");
    one.root.dataset.code = code;
    return { ...one, code };
  });
  /**
   * A second tap on the chosen word takes the choice back: a slip with gloves must not need the other answer.
   *
   * @param {string} code
   */
  function pick(code) {
    const text = source.get().text === code && !required ? "" : code;
    source.set({ text });
    for (const one of choices) one.input.checked = one.code === text;
  }
  const boxes = el("div", { class: "choices" }, choices.map((one) => one.root));
  const root = el("fieldset", { class: "field" }, el("legend", null, label), boxes);
  return { root, refresh: () => choices.forEach((one) => (one.input.checked = one.code === source.get().text)) };
}

/** @param {Field} field @param {Source} source @param {FieldTools} tools @returns {Control} */
export function choiceField(field, source, { rulebook }) {
  const { unitsOf } = field;
  const options = field.answers ?? (unitsOf === undefined
    ? codesOf(field, rulebook).map((code) => pair(code, term(field.vocabulary ?? "", code)))
    : OFFERED[unitsOf].map((unit) => pair(unit, unitWord(unitsOf, unit))));
  return { ...radios(field.label, options, source, field.required), field };
}

/** @param {string} code @param {string} words @returns {[code: string, words: string]} */
const pair = (code, words) => [code, words];

/** The codes that a field may hold. @param {Field} field @param {Rulebook} rulebook */
const codesOf = (field, rulebook) => rulebook.vocabularies[field.vocabulary ?? ""];

/** @param {Field} field @param {Source} source @returns {Control} */
export function flagField(field, source) {
  const options = ["yes", "no"].map((code) => pair(code, say(`phone.form.${code}`)));
  return { ...radios(field.label, options, source), field };
}

/** @param {Field} field @param {Source} source @param {FieldTools} tools @returns {Control} */
export function codesField(field, source, { rulebook }) {
  const chosen = () => source.get().text.split(" ").filter((code) => code !== "");
  const choices = codesOf(field, rulebook).map((code) => {
    const words = term(field.vocabulary ?? "", code);
    return { code, ...option(freshId("code"), words, chosen().includes(code), () => toggle(code), "checkbox") };
  });
  /** @param {string} code */
  function toggle(code) {
    const now = chosen();
    source.set({ text: (now.includes(code) ? now.filter((one) => one !== code) : [...now, code]).join(" ") });
  }
  const boxes = el("div", { class: "choices" }, choices.map((one) => one.root));
  const root = el("fieldset", { class: "field" }, el("legend", null, field.label), boxes);
  return { root, field, refresh: () => choices.forEach((one) => (one.input.checked = chosen().includes(one.code))) };
}

/**
 * What the form says of a text in a number field: what is wrong with it, or how a comma was understood.
 *
 * @param {Field} field
 * @param {Entry} entry
 * @param {Rulebook} rulebook
 * @returns {{fault: string | null, words: string | null}}
 */
export function understood(field, entry, rulebook) {
  if (entry.text.trim() === "") return { fault: null, words: null };
  const read = valueOf(field, entry, rulebook);
  if (read.fault !== undefined) return { fault: typedFault(read.fault), words: null };
  if (!read.comma) return { fault: null, words: null };
  const figure = number(Number(readNumber(entry.text).number), decimalsIn(entry.text));
  const words = say("phone.typed.read_as", { number: figure });
  return { fault: null, words };
}

/**
 * The unit of a number, as text: it is changed in the settings, and a single reading may have another.
 *
 * @param {Field} field
 * @param {Source} source
 * @param {string} id
 */
function unitText({ quantity, suffix }, source, id) {
  const root = el("span", { class: "unit", id }, suffix ?? "");
  const refresh = () => quantity && setText(root, unitWord(quantity, source.get().unit));
  refresh();
  return { root, refresh };
}

/**
 * The number that stood there before the work, beside the field; null where there was none.
 *
 * @param {Field} field
 * @param {Source} source
 */
function earlierText({ quantity = "" }, { earlier, get }) {
  const entry = earlier?.();
  if (entry === undefined || entry.text === "") return null;
  const read = readNumber(entry.text);
  const figure = read.fault === undefined ? number(Number(read.number), decimalsIn(entry.text)) : entry.text;
  const value = entry.unit === get().unit ? figure : `${figure}\u00a0${unitWord(quantity, entry.unit)}`;
  return el("span", { class: "earlier" }, say("phone.form.from", { value }));
}

/** How many decimals were typed. @param {string} text */
const decimalsIn = (text) => text.trim().split(/[.,]/)[1]?.length ?? 0;

/**
 * A sign that number pads on some phones lack.
 *
 * @param {Field} field
 * @param {Source} source
 * @param {HTMLInputElement} input
 * @param {(text: string) => void} write
 */
function signMark(field, source, input, write) {
  if (field.quantity !== "temperature" && !(field.range !== undefined && field.range[0] < 0)) return null;
  const turn = () => {
    const { text } = source.get();
    write(/^[-\u2212]/.test(text) ? text.slice(1) : `-${text}`);
    input.value = source.get().text;
  };
  return button("+/\u2212", turn, { class: "sign", "aria-label": say("phone.form.sign", { label: field.label }) });
}

/** @param {Field} field @param {Source} source @param {FieldTools} tools @returns {Control} */
export function numberField(field, source, tools) {
  const id = freshId("number");
  const meaning = el("p", { class: "meaning", id: `${id}-meaning` });
  const fault = el("p", { class: "fault", id: `${id}-fault` });
  const input = el("input", {
    id, type: "text", inputmode: field.integer ? "numeric" : "decimal", autocomplete: "off", class: "number", size: "6",
    enterkeyhint: "next", placeholder: field.empty ?? "\u2013", value: source.get().text,
    "aria-describedby": `${id}-unit ${fault.id} ${meaning.id}`, on: { keydown: goOn, focus: () => stand(root) },
  });
  /** @param {string} text */
  const write = (text) =>
    source.set({ text, unit: unitOfText(field, text, source.get().unit, tools.unitFor(field)) });
  input.addEventListener("input", () => write(input.value));
  const unit = unitText(field, source, `${id}-unit`);
  const look = ["reading", field.large && "large", field.side].filter((part) => part).join(" ");
  const sign = signMark(field, source, input, write);
  const figures = el("span", { class: "figures" }, earlierText(field, source), input);
  /** @type {HTMLElement} */
  const root = el("div", { class: look }, labelOn(id, field), figures, unit.root, fault, meaning, sign);
  /** @param {FieldSight} sight */
  const refresh = (sight) => {
    unit.refresh();
    const entry = source.get();
    follow(input, entry.text);
    const reading = understood(field, entry, tools.rulebook);
    setText(fault, reading.fault ?? "");
    input.setAttribute("aria-invalid", reading.fault === null ? "false" : "true");
    const means = reading.fault === null ? sight.meaning(field, entry) : null;
    setText(meaning, beside([reading.words, means]));
  };
  return { root, refresh, field };
}

/**
 * The sign's key stays with the last field that was typed into. If it went when that field is left, everything below
 * would move away from the finger on its way there.
 *
 * @param {Element} root
 */
function stand(root) {
  document.querySelector(".reading.at")?.classList.remove("at");
  root.classList.add("at");
}

/** The keypad's "next" goes to the next field that is typed into. @param {KeyboardEvent} event */
export function goOn(event) {
  if (event.key !== "Enter") return;
  event.preventDefault();
  /** @type {NodeListOf<HTMLElement>} */
  const inputs = document.querySelectorAll("main input[type=text], main textarea");
  const seen = [...inputs].filter((one) => one.offsetParent !== null);
  seen[seen.indexOf(/** @type {HTMLElement} */ (event.target)) + 1]?.focus();
}

/** @type {Record<string, (field: Field, source: Source, tools: FieldTools) => Control>} */
const MAKERS = {
  text: textField,
  day: dayField,
  number: numberField,
  money: numberField,
  choice: choiceField,
  flag: flagField,
  codes: codesField,
};

/** @param {Field} field @param {Source} source @param {FieldTools} tools */
export const control = (field, source, tools) => fieldWithHelp(MAKERS[field.kind](field, source, tools), field);

/** @param {string} words */
export const headingOf = (words) => ({ root: el("h2", null, words), refresh: () => undefined });
