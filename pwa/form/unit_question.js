// Whether a number was read in another unit, in words, with a yes and a no; for any field of a test with a quantity.
// DOM only: when to ask is the kernel's rule. Yes changes this reading alone, no keeps it; neither asks again.

import { readNumber } from "../visit/number_input.js";
import { entries } from "../visit/steps.js";
import { nameOf } from "../visit/visit_model.js";
import { unit_question } from "../kernel.js";
import { number } from "../language/formats.js";
import { say, unitWord } from "../language/words.js";
import { button, el, replace } from "./elements.js";
import { sourceIn } from "./quick_typing.js";

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

const PAUSE_MS = 900;

/**
 * The question about a number of a test, over the keys of the foot, so that nothing on the page moves. It is asked once
 * the hand rests, of one number after the other.
 *
 * @param {Tools} tools
 * @returns {Part}
 */
export function questionBar(tools) {
  const { step: { fields, role = "" }, rulebook } = tools;
  const root = el("div", { class: "asking strip-line", hidden: true });
  const sources = entries(fields).filter(({ quantity }) => quantity !== undefined)
    .map(({ path }) => sourceIn(path.join("."), role, tools));
  let shown = "";
  let pause = 0;
  /** @param {Sight} sight */
  const refresh = (sight) => {
    const [found] = sources.flatMap((source) => {
      const asked = questionOf(source.field, source.get(), { ...sight, rulebook });
      return asked === null ? [] : [{ source, asked }];
    });
    const now = found?.asked.words ?? "";
    if (now === shown) return;
    shown = now;
    clearTimeout(pause);
    root.hidden = true;
    if (found === undefined) return;
    const { source, asked } = found;
    pause = window.setTimeout(() => {
      replace(
        root, el("p", { role: "alert" }, el("b", null, source.field.label), " ", asked.words),
        button(say("quick.question.yes"), () => source.set(answeredYes(source.get(), asked))),
        button(say("quick.question.no"), () => source.set(answeredNo(source.get()))),
      );
      root.hidden = false;
    }, PAUSE_MS);
  };
  return { root, refresh };
}
