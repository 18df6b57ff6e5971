// Under a customer's name or a vehicle's plate: those written down before, one tap away.
// DOM only: which records there are is earlier_cards.js; a tap writes into the fields of the step, nothing else.

import { entryOf } from "../visit/number_input.js";
import { matching } from "../visit/earlier_cards.js";
import { entries } from "../visit/steps.js";
import { say } from "../language/words.js";
import { button, el } from "./elements.js";

const MOST = 4;
const TELLING = ["customer.name", "vehicle.plate", "vehicle.vin"];

/**
 * Writes a record's values into the step's fields of the same names; what the record does not know stays.
 *
 * @param {PastRecord} record
 * @param {Tools} tools
 * @param {SourceOf} sourceOf
 */
export function take(record, tools, sourceOf) {
  for (const field of entries(tools.step.fields)) {
    const name = field.path.join(".");
    const value = record.values[name];
    if (value === undefined || value === null || typeof value === "object") continue;
    sourceOf(field).put(entryOf(field, value, record.typed[name], tools.unitFor(field), tools.rulebook));
  }
  tools.typed();
}

/**
 * {root, refresh}: the offers for `field`; gone once the record is the one that is written.
 *
 * @param {Field} field
 * @param {Tools} tools
 * @param {SourceOf} sourceOf
 * @returns {Part}
 */
export function offersRow(field, tools, sourceOf) {
  const name = say("phone.form.offers", { label: field.label });
  const root = el("div", { class: "offers", role: "group", "aria-label": name });
  /** @type {string | null} */
  let drawn = null;
  const telling = entries(tools.step.fields).filter((one) => TELLING.includes(one.path.join(".")));
  /** @param {PastRecord} record */
  const stands = (record) =>
    telling.every((one) => (record.values[one.path.join(".")] ?? "") === sourceOf(one).get().text);
  /** @param {Sight} sight */
  function refresh(sight) {
    const { text } = sourceOf(field).get();
    const customer = field.check === "vin" ? undefined : sight.visit.customer?.name;
    const records = field.offers === undefined ? [] : tools.records[field.offers];
    const open = matching(records, text, customer).filter((record) => !stands(record)).slice(0, MOST);
    const now = open.map((record) => record.label).join("\n");
    if (now === drawn) return;
    drawn = now;
    /** @param {PastRecord} record */
    const key = (record) => button(record.label, () => take(record, tools, sourceOf), { class: "quiet" });
    root.replaceChildren(...open.map(key));
  }
  return { root, refresh };
}
