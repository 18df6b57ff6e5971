// How far each step of a visit is, and the few words about it: what is open, else what is recorded.
// No element is made here; which cautions fit is decided by the kernel, what a step asks by the rulebook.

import { changesOf } from "../visit/step_changes.js";
import { entries } from "../visit/steps.js";
import { itemsOf, valueAt } from "../visit/visit_model.js";
import { say } from "../language/words.js";
import { fittingCautions, openCautions } from "./cautions.js";

/** @typedef {{state: "done" | "begun" | "open", words: string}} Progress how far a step is, and a few words about it */
/** @typedef {{step: Step, visit: Visit, rulebook: Rulebook}} Asking */

/** @param {string} code @param {Record<string, string | number>} [values] */
const words = (code, values) => say(`phone.progress.${code}`, values);

/** What names a vehicle, the plate first; "" where nothing does. @param {Visit} visit */
export function vehicleName(visit) {
  const { make, model, plate, vin = "" } = visit.vehicle ?? {};
  const kind = [make, model].filter((part) => part).join(" ");
  return plate ?? (kind || vin);
}

/** @param {unknown[]} wanted @param {unknown[]} all @returns {Progress["state"]} */
function reached(wanted, all) {
  /** @param {unknown} one */
  const holds = (one) => one !== undefined && one !== null && one !== "" && one !== false;
  if (wanted.every(holds)) return "done";
  return [...wanted, ...all].some(holds) ? "begun" : "open";
}

/** What a step's own fields hold. @param {Step} step @param {object | undefined} root */
const held = (step, root) => entries(step.fields).map((field) => valueAt(root, field.path));

/** The readings without which a test says little. @param {Test | undefined} test */
const readingsOf = (test) => [
  test?.conditions?.ambient_c, test?.readings?.low_kpa_g, test?.readings?.high_kpa_g, test?.readings?.vent_c,
];

/** @param {Asking} asking @returns {Progress} */
function customer({ step, visit }) {
  const agreed = (visit.consent ?? []).some(({ code }) => code === "work_agreed");
  const named = visit.customer?.name ?? visit.place?.label ?? visit.customer?.address;
  const state = reached([named, agreed], held(step, visit));
  return { state, words: words(agreed ? "agreed" : "agreement_open") };
}

/** @param {Asking} asking @returns {Progress} */
function vehicle({ step, visit }) {
  const name = vehicleName(visit);
  const inside = visit.vehicle?.refrigerant;
  const state = reached([name, inside], held(step, visit));
  return { state, words: name !== "" && inside === undefined ? words("refrigerant_open") : name };
}

/** @param {Asking} asking @returns {Progress} */
function cautions({ visit, rulebook }) {
  const fitting = fittingCautions(visit, rulebook).length;
  const open = openCautions(visit, rulebook).length;
  if (open === 0) return { state: "done", words: words("read", { count: fitting }) };
  return { state: open < fitting ? "begun" : "open", words: words("to_read", { count: open }) };
}

/** @param {Asking} asking @returns {Progress} */
function look({ step, visit, rulebook }) {
  const checks = visit.checks ?? [];
  const asked = itemsOf(step, rulebook).filter(({ list }) => list === "checks").length;
  const faults = checks.filter(({ state }) => state === "fault").length;
  const state = reached([checks.length >= asked], [...checks, ...(visit.rests ?? []), ...held(step, visit)]);
  return { state, words: faults === 0 ? "" : words("to_mend", { count: faults }) };
}

/** @param {Asking} asking @returns {Progress} */
function tested({ step, visit }) {
  const test = (visit.tests ?? []).findLast(({ role }) => role === step.role);
  const readings = readingsOf(test);
  const conditions = entries(step.fields).filter((field) => field.held === true);
  const noted = conditions.some((field) => valueAt(test, field.path) !== undefined);
  const state = reached([...readings, noted], held(step, test));
  if (state !== "begun") return { state, words: "" };
  return { state, words: words(readings.some((one) => one === undefined) ? "readings_open" : "conditions_open") };
}

/** @param {Asking} asking @returns {Progress} */
function work({ visit }) {
  const count = (visit.work ?? []).length + (visit.refrigerant_moves ?? []).length;
  return count === 0 ? { state: "open", words: "" } : { state: "done", words: words("recorded", { count }) };
}

/** @param {Asking} asking @returns {Progress} */
function result({ step, visit }) {
  const { signature, charges = [], advice = [] } = visit;
  const state = reached([visit.ended_at], [signature, ...charges, ...advice, ...held(step, visit)]);
  return { state, words: signature === undefined ? "" : words("signed") };
}

/** @type {Record<string, (asking: Asking) => Progress>} */
const STEPS = { customer, vehicle, cautions, look, before: tested, work, after: tested, result };

/**
 * How far a step is. A text in it that is no value leaves it begun, and is what is said first.
 *
 * @param {Page} page
 * @param {Step} step
 * @param {Rulebook} rulebook
 * @param {Visit} visit with what is being typed
 * @returns {Progress}
 */
export function progressOf(page, step, rulebook, visit) {
  const { faults } = changesOf(page, step, rulebook, () => "0");
  if (faults.length > 0) return { state: "begun", words: words("to_correct", { count: faults.length }) };
  return STEPS[step.slug]({ step, visit, rulebook });
}

/** The word for how far a step is. @param {Progress["state"]} state */
export const stateWord = (state) => words(state);
