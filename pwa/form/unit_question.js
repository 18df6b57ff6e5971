// Whether a number was read in another unit, in words, with a yes and a no; for any field of a test with a quantity.
// DOM only: when to ask is the kernel's rule. Yes changes this reading alone, no keeps it; neither asks again.

import { readNumber } from "../visit/number_input.js";
import { nameOf } from "../visit/visit_model.js";
import { unit_question } from "../kernel.js";
import { number } from "../language/formats.js";
import { say, unitWord } from "../language/words.js";
import { button, el, replace } from "./elements.js";

/** @typedef {{unit: string, words: string}} Asked The unit that is asked for, and the question */

// What a pressure would mean, by the side it was read on.
/** @type {Record<string, [derived: string, code: string]>} */
const MEANS = {
  low_kpa_g: ["low_saturation_c", "evaporating"],
  high_kpa_g: ["high_saturation_c", "condensing"],
};

/** A number as it was typed, with a unit. @param {string} text @param {string} quantity @param {string} unit */
function inWords(text, quantity, unit) {
  const decimals = /[.,](\d*)$/.exec(text.trim())?.[1].length ?? 0;
  return `${number(Number(readNumber(text).number), decimals)}\u00a0${unitWord(quantity, unit)}`;
}

/**
 * The question about an entry that is being typed; null where there is none, or it was answered.
 *
 * @param {Field} field
 * @param {Entry} entry
 * @param {{visit: Visit, judged?: JudgedTest, speak: Speaker, rulebook: Rulebook}} about
 * @returns {Asked | null}
 */
export function questionOf(field, entry, { visit, judged, speak, rulebook }) {
  const { quantity } = field;
  const read = readNumber(entry.text);
  if (!entry.drafted || entry.sure || !quantity || entry.unit === undefined || read.fault !== undefined) return null;
  const inside = visit.vehicle?.refrigerant ?? "unknown";
  const asked = unit_question(field.path.join("."), Number(read.number), entry.unit, inside, rulebook);
  if (asked === null) return null;
  const values = {
    value: inWords(entry.text, quantity, entry.unit), other: inWords(entry.text, quantity, asked.unit),
  };
  const [derived, code] = MEANS[nameOf(field)] ?? [];
  const figure = derived === undefined ? undefined : judged?.derived[derived];
  const plain = say(`quick.question.${asked.impossible ? "impossible" : "unusual"}`, values);
  const words = figure === undefined
    ? plain
    : say(`quick.question.${code}`, { ...values, temperature: speak.temperature(figure.value) });
  return { unit: asked.unit, words };
}

/** The entry as a yes leaves it: this reading alone in the other unit. @param {Entry} entry @param {Asked} asked */
export const answeredYes = ({ text }, { unit }) => ({ text, unit, sure: true });

/** The entry as a no leaves it. @param {Entry} entry @returns {Entry} */
export const answeredNo = ({ text, unit }) => ({ text, unit, sure: true });

/**
 * The question as a part under a number field, for the steps of a visit.
 *
 * @param {Field} field
 * @param {Source} source
 * @param {Rulebook} rulebook
 * @returns {Part}
 */
export function unitQuestion(field, source, rulebook) {
  const root = el("div", { class: "unit-question" });
  /** @type {string | null} */
  let shown = null;
  /** @param {Sight} sight */
  const refresh = ({ visit, judged, speak }) => {
    const entry = source.get();
    const asked = questionOf(field, entry, { visit, judged, speak, rulebook });
    root.hidden = asked === null;
    if (asked === null || asked.words === shown) return;
    shown = asked.words;
    replace(
      root, el("p", { role: "alert" }, asked.words),
      button(say("quick.question.yes"), () => source.set(answeredYes(source.get(), asked))),
      button(say("quick.question.no"), () => source.set(answeredNo(source.get()))),
    );
  };
  return { root, refresh };
}
