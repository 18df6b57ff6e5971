// Where each clock belongs: the step that has its field, the field, and the entry of a list that the field is in.
// Pure: which field has a clock is the rulebook's.

import { itemsOf, nameOf } from "./visit_model.js";
import { entries, stepsOf } from "./steps.js";

/** @typedef {Field & {clock: FieldClock}} Clocked a field that a clock fills */
/** @typedef {{step: Step, field: Clocked, item?: Item}} Place of a clock */

/** A clock's name without what it belongs to. @param {string} name */
export const kindOf = (name) => name.split(".")[0];

/** A clock's name at a field of a test, or of an entry. @param {FieldClock} clock @param {string | undefined} of */
export const clockName = ({ name }, of) => (name === "rinsed" || of === undefined ? name : `${name}.${of}`);

/** @param {StepPart} field @returns {field is Clocked} */
const isClocked = (field) => field.path !== undefined && field.clock !== undefined;

/**
 * @param {string} name the clock's, with what it belongs to
 * @param {Rulebook} rulebook
 * @returns {Place | null}
 */
export function placeOfClock(name, rulebook) {
  for (const step of stepsOf(rulebook)) {
    const own = entries(step.fields).filter(isClocked).find(({ clock }) => clockName(clock, step.role) === name);
    if (own !== undefined) return { step, field: own };
    for (const item of itemsOf(step, rulebook)) {
      const field = item.fields.filter(isClocked).find(({ clock }) => clockName(clock, item.slot) === name);
      if (field !== undefined) return { step, field, item };
    }
  }
  return null;
}

/** What a clock wrote, and where. @param {Place} place */
export const filledName = ({ step, field, item }) => `${item?.slot ?? step.role}.${nameOf(field)}`;
