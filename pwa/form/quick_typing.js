// What is typed in the cells of the quick test: read from the draft of the visit, written into it key by key.
// No rule of the trade and no element stands here; fields are those of the steps before and after.

import { decimalMark } from "../language/formats.js";
import { fieldIn, pressed, turned } from "../visit/quick_step.js";
import { stepOf } from "../visit/steps.js";
import { entryFor, typeInto } from "../visit/visit_model.js";

/** @typedef {import("../visit/quick_step.js").QuickCell} QuickCell */

const RUNNING = "readings.running";

/**
 * A field in the step of a column.
 *
 * @param {string} path
 * @param {string} column
 * @param {Tools} tools
 * @returns {Source & {field: Field}}
 */
export function sourceIn(path, column, tools) {
  const { page, rulebook } = tools;
  const step = stepOf(column, rulebook);
  const field = fieldIn(path, step);
  return {
    field,
    get: () => entryFor(page, step, field, tools.unitFor(field), rulebook),
    set: ({ text, unit = tools.unitFor(field), sure }) => {
      typeInto(page, step, field, { text, unit, sure }, tools.freshTest());
      tools.typed();
    },
  };
}

/** The lower and, where it swings, the upper end of a cell. @param {QuickCell} cell @param {Tools} tools */
export function endsOf({ row, column }, tools) {
  const least = sourceIn(row.path, column, tools);
  const most = row.most === undefined ? null : sourceIn(row.most, column, tools);
  return { least, most };
}

/**
 * A pressure that swings is one of a compressor that cycles; taken back, so is that.
 *
 * @param {QuickCell} cell
 * @param {Tools} tools
 */
function noteSwing({ column }, tools) {
  const running = sourceIn(RUNNING, column, tools);
  const swings = ["readings.low_max_kpa_g", "readings.high_max_kpa_g"]
    .some((path) => sourceIn(path, column, tools).get().text !== "");
  const { text, drafted } = running.get();
  if (swings && text === "") running.set({ text: "cycling" });
  if (!swings && text === "cycling" && drafted) running.set({ text: "" });
}

/**
 * Takes a key into a cell; `swing` says whether the upper end is being typed. Gives back whether it still is.
 *
 * @param {QuickCell} cell
 * @param {string} key
 * @param {boolean} swing
 * @param {Tools} tools
 * @returns {boolean}
 */
export function typeKey(cell, key, swing, tools) {
  const { least, most } = endsOf(cell, tools);
  const upper = swing && most !== null;
  const end = upper ? most : least;
  const entry = end.get();
  if (key === "swing") return most !== null && least.get().text !== "";
  if (key === "minus") {
    const next = turned(entry);
    end.set(next.text === "-" ? { ...next } : next);
    return upper;
  }
  if (upper && key === "erase" && entry.text === "") return false;
  const text = pressed(entry.text, key, decimalMark());
  // The unit goes with the sign, and both ends of a swing are read on one dial.
  const emptied = text === "" ? undefined : entry.unit;
  end.set({ text, unit: upper && entry.text === "" ? least.get().unit : emptied });
  if (upper) noteSwing(cell, tools);
  return upper;
}

/** What Before says goes into After, in its unit. @param {QuickCell} cell @param {Tools} tools */
export function typeSame({ row }, tools) {
  const before = sourceIn(row.path, "before", tools).get();
  if (before.text !== "") sourceIn(row.path, "after", tools).set({ text: before.text, unit: before.unit });
}
