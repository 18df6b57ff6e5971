// Customers and vehicles that this phone has written down before, to be offered again instead of typed.
// Pure: views of visits in, records out, newest first; nothing is kept or shown here.

import { unsigned } from "../kernel.js";

/** @param {...(string | undefined)} parts */
const listed = (...parts) => parts.filter((part) => part).join(", ");

/**
 * The visits with each customer under the id that stands, where the desk joined two that were one; `over` is {id: id}.
 *
 * @template {{visit: Visit}} V
 * @param {V[]} views
 * @param {Record<string, string>} over
 * @returns {V[]}
 */
export const joined = (views, over) =>
  views.map((view) => {
    const { customer } = view.visit;
    const id = customer?.id === undefined ? undefined : over[customer.id];
    return id === undefined ? view : { ...view, visit: { ...view.visit, customer: { ...customer, id } } };
  });

const OF_ONE_VISIT = ["odometer_km", "baseline", "chart"];

/**
 * {label, sought, group, values: {path: value}, typed} for what one visit says of a customer or a vehicle.
 *
 * @param {"customer" | "vehicle"} group
 * @param {Visit} visit
 * @param {string} label
 * @param {(string | undefined)[]} sought
 * @returns {PastRecord}
 */
function recordOf(group, visit, label, sought) {
  const lasting = Object.entries(visit[group] ?? {}).filter(([name]) => !OF_ONE_VISIT.includes(name));
  const values = Object.fromEntries(lasting.map(([name, value]) => [`${group}.${name}`, value]));
  const words = sought.filter((part) => part).join(" ").toLowerCase();
  return { label, sought: words, group, values, typed: visit.typed ?? {} };
}

/** @param {Visit} visit */
function customerOf(visit) {
  const { name, phone, email, address } = visit.customer ?? {};
  if (name === undefined) return null;
  return recordOf("customer", visit, listed(name, address ?? phone ?? email), [name, phone, email, address]);
}

/** @param {Visit} visit */
function vehicleOf(visit) {
  const { plate, vin, make, model } = visit.vehicle ?? {};
  if (plate === undefined && vin === undefined) return null;
  const kind = [make, model].filter((part) => part).join(" ");
  return recordOf("vehicle", visit, listed(plate ?? vin, kind), [plate, vin]);
}

/**
 * Each customer and vehicle once, as last written down: by its id where it has one, by its label where it has none.
 * What they were called earlier still finds them.
 *
 * @param {(PastRecord | null)[]} records
 */
function once(records) {
  const cards = new Map();
  for (const record of records.filter((one) => one !== null)) {
    const key = record.values[`${record.group}.id`] ?? record.label;
    const newest = cards.get(key);
    if (newest === undefined) cards.set(key, record);
    else if (!newest.sought.includes(record.sought)) newest.sought += ` ${record.sought}`;
  }
  const labels = new Map([...cards.values()].toReversed().map((one) => [one.label, one]));
  return [...labels.values()].toReversed();
}

/**
 * {customer: [...], vehicle: [...]}, newest first, from every other visit on the phone.
 *
 * @param {VisitView[]} views
 * @param {string} visit
 */
export function recordsOf(views, visit) {
  const others = views.filter((view) => view.id !== visit).map((view) => view.visit);
  others.sort((one, other) => (one.started_at < other.started_at ? 1 : -1));
  const customer = once(others.map(customerOf));
  // A vehicle is offered to its customer by the name under which that one is offered.
  const names = new Map(customer.map(({ values }) => [values["customer.id"], values["customer.name"]]));
  /** @param {PastRecord | null} record @param {Visit} visit @returns {PastRecord | null} */
  const owned = (record, { customer: owner }) =>
    record && { ...record, customer: (owner?.id && names.get(owner.id)) ?? owner?.name };
  return { customer, vehicle: once(others.map((one) => owned(vehicleOf(one), one))) };
}

const LEAST = 2;

/**
 * Those that what is typed may mean: by its letters, or for a vehicle nobody typed yet, the customer's own.
 *
 * @param {PastRecord[]} records
 * @param {string} text
 * @param {string | undefined} customer
 * @returns {PastRecord[]}
 */
export function matching(records, text, customer) {
  const sought = text.trim().toLowerCase();
  if (sought === "") {
    return records.filter((one) => customer !== undefined && one.group === "vehicle" && one.customer === customer);
  }
  const bare = unsigned(text);
  /** @param {PastRecord} one */
  const isMeant = ({ group, sought: words }) =>
    words.includes(sought) || (group === "vehicle" && bare.length >= LEAST && unsigned(words).includes(bare));
  return sought.length < LEAST ? [] : records.filter(isMeant);
}

/**
 * Vehicles by a part of plate, VIN, make or customer; all of them while nothing is typed.
 *
 * @param {PastRecord[]} records
 * @param {string} text
 */
export function foundBy(records, text) {
  const sought = text.trim().toLowerCase();
  const bare = unsigned(sought);
  return records.filter(({ label, sought: words, customer }) =>
    `${label} ${words} ${customer}`.toLowerCase().includes(sought) || (bare !== "" && unsigned(words).includes(bare)));
}
