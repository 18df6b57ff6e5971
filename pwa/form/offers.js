// Under a customer's name or a vehicle's plate: those written down before, one tap away.
// DOM only: which records there are is earlier_cards.js; a tap writes into the fields of the step, nothing else.

import { entryOf } from "../visit/number_input.js";
import { matching } from "../visit/earlier_cards.js";
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
function take(record, tools, sourceOf) {
  for (const field of tools.step.fields) {
    const value = record.values[field.path?.join(".")];
    if (value === undefined || value === null || typeof value === "object") continue;
    sourceOf(field).put(entryOf(field, value, record.typed[field.path.join(".")], tools.unitFor(field), tools.rulebook));
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
  const root = el("div", { class: "offers", role: "group", "aria-label": `${field.label}: written down before` });
  let drawn = null;
  const told = tools.step.fields.filter((one) => TELLING.includes(one.path?.join(".")));
  /** @param {PastRecord} record */
  const stands = (record) => told.every((one) => (record.values[one.path.join(".")] ?? "") === sourceOf(one).get().text);
  /** @param {Sight} sight */
  function refresh(sight) {
    const { text } = sourceOf(field).get();
    const customer = field.check === "vin" ? undefined : sight.visit.customer?.name;
    const open = matching(tools.records[field.offers], text, customer).filter((record) => !stands(record)).slice(0, MOST);
    const now = open.map((record) => record.label).join("\n");
    if (now === drawn) return;
    drawn = now;
    root.replaceChildren(...open.map((record) => button(record.label, () => take(record, tools, sourceOf), { class: "quiet" })));
  }
  return { root, refresh };
}
