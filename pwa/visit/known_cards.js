// Who a vehicle or customer is: its id in other visits on this phone, or a new one; and what is on its card.
// Pure: visits, operations, baselines and new ids are handed in; a person's words are never changed.

import { card_of, leaves, marks_of, subjects_of, unsigned } from "../kernel.js";

/** A plate, VIN or telephone as it is compared. @param {string | undefined} text */
const bare = (text) => unsigned((text ?? "").toUpperCase());

/** @param {string | undefined} one @param {string | undefined} other */
const alike = (one, other) => bare(one) !== "" && bare(one) === bare(other);

/**
 * The visits of other views that name the part, newest first.
 *
 * @param {Visit} visit
 * @param {VisitView[]} views
 * @param {"vehicle" | "customer"} part
 */
export const others = (visit, views, part) =>
  views
    .map((view) => view.visit)
    .filter((one) => one.id !== visit.id && one[part]?.id !== undefined && !one.void)
    .sort((one, other) => (one.started_at < other.started_at ? 1 : -1));

/** A plate moves from car to car; two VINs that differ are two cars. @param {Vehicle} one @param {Vehicle} other */
const samePlate = (one, other) =>
  alike(one.plate, other.plate) && (!one.vin || !other.vin || alike(one.vin, other.vin));

/** Whether two visits saw one car, as far as they say. @param {Vehicle} one @param {Vehicle} other */
export const sameVehicle = (one, other) =>
  (one.id !== undefined && one.id === other.id) || alike(one.vin, other.vin) || samePlate(one, other);

/** @param {Visit} visit @param {VisitView[]} views */
function knownVehicle(visit, views) {
  const mine = visit.vehicle ?? {};
  const vehicles = others(visit, views, "vehicle").map((one) => /** @type {Vehicle} */ (one.vehicle));
  const byNumber = vehicles.find((one) => alike(one.vin, mine.vin));
  return (byNumber ?? vehicles.find((one) => samePlate(one, mine)))?.id ?? null;
}

/** @param {Visit} visit @param {VisitView[]} views @param {string | null} vehicle */
function knownCustomer(visit, views, vehicle) {
  const mine = visit.customer ?? {};
  /** @param {Visit} one */
  const same = (one) => {
    const { name, phone, email, address } = one.customer ?? {};
    if (alike(phone, mine.phone) || alike(email, mine.email)) return true;
    const placed = alike(address, mine.address) || (vehicle !== null && one.vehicle?.id === vehicle);
    return alike(name, mine.name) && placed;
  };
  return others(visit, views, "customer").find(same)?.customer?.id ?? null;
}

/**
 * Two phones that never met give a car with a readable VIN or plate the same id.
 *
 * @param {Vehicle} vehicle
 * @param {() => string} fresh
 */
function vehicleName({ vin, plate }, fresh) {
  if (/^[0-9A-Z]{17}$/.test(bare(vin))) return `vin-${bare(vin)}`;
  return /^[0-9A-Z]{2,20}$/.test(bare(plate)) ? `plate-${bare(plate)}` : fresh();
}

/**
 * What a visit still has to say of who its vehicle and customer are: {vehicle: {id}, customer: {id}}, each only where
 * it changes something. With `fresh` those that nobody knows get a new id; without, they wait for the end of the visit.
 *
 * @param {Visit} visit
 * @param {VisitView[]} views
 * @param {(() => string) | null} [fresh]
 */
export function identityOf(visit, views, fresh = null) {
  const ids = {};
  const { vehicle = {}, customer = {} } = visit;
  const named = vehicle.vin || vehicle.plate;
  const car = named ? (knownVehicle(visit, views) ?? vehicle.id ?? (fresh && vehicleName(vehicle, fresh))) : null;
  if (car && car !== vehicle.id) ids.vehicle = { id: car };
  const person = customer.name || customer.phone || customer.email;
  const who = person && customer.id === undefined ? (knownCustomer(visit, views, car) ?? (fresh && fresh())) : null;
  if (who) ids.customer = { id: who };
  return ids;
}

/**
 * The baseline a visit should carry: what the desk handed over, without this visit's own tests; null where there is
 * nothing to write. A finished visit keeps the one it was judged by.
 *
 * @param {Visit} visit
 * @param {Baseline | undefined} baseline
 * @returns {Baseline | null}
 */
export function baselineFor(visit, baseline) {
  if (baseline === undefined || visit.ended_at !== undefined) return null;
  const entries = baseline.entries.filter((entry) => entry.visit !== visit.id);
  const old = visit.vehicle?.baseline;
  if (entries.length === 0 && old === undefined) return null;
  const next = { ...baseline, entries };
  return JSON.stringify(next) === JSON.stringify(old) ? null : next;
}

/**
 * The names under which an operation beside the visits is kept: "vehicle <id>", "customer <id>".
 *
 * @param {Op} op
 * @param {Kinds} kinds
 * @returns {string[]}
 */
export function cardsOf(op, kinds) {
  return subjects_of(op, kinds).map(([what, id]) => `${what} ${id}`);
}

/**
 * The last word on a test among the operations of a vehicle's card: true, false, or null where nobody said.
 *
 * @param {Op[]} ops
 * @param {string} visit
 * @param {string} test
 * @param {Kinds} kinds
 */
export const markOf = (ops, visit, test, kinds) => marks_of(ops, kinds)[visit]?.[test] ?? null;

/**
 * What visits say of their vehicle or customer, with what was filed beside them.
 *
 * @param {"vehicle" | "customer"} what
 * @param {Visit[]} visits
 * @param {Op[]} ops
 * @param {Kinds} kinds
 * @returns {Tree}
 */
export function cardFields(what, visits, ops, kinds) {
  const stated = visits.map((one) => ({ at: Date.parse(one.started_at), fields: { ...one[what] } }));
  return card_of(what, stated, ops, kinds).fields;
}

/**
 * A make, model and year as they are compared, whatever their capitals and spaces; null where one of them is missing.
 *
 * @param {Vehicle} [vehicle]
 */
export function modelOf({ make, model, year } = {}) {
  const parts = [make, model, year].map((part) => String(part ?? "").replaceAll(/\s/g, "").toLowerCase());
  return parts.includes("") ? null : parts.join("/");
}

/**
 * What is known of the vehicle or customer from other visits and the card, and what of it this visit does not say yet;
 * null where nothing is known.
 *
 * @param {"vehicle" | "customer"} what
 * @param {Visit} visit
 * @param {VisitView[]} views
 * @param {Op[]} ops
 * @param {Kinds} kinds
 * @returns {Offer | null}
 */
export function offerOf(what, visit, views, ops, kinds) {
  const id = visit[what]?.id;
  const mine = others(visit, views, what).filter((one) => one[what]?.id === id);
  if (id === undefined || visit.ended_at !== undefined || (mine.length === 0 && ops.length === 0)) return null;
  const fields = cardFields(what, mine, ops, kinds);
  /** @type {Tree} */
  const own = visit[what] ?? {};
  const unsaid = Object.entries(fields).filter(([name]) => own[name] === undefined);
  const missing = unsaid.filter(([name]) => !OF_THE_DAY.includes(name));
  return { seen: mine[0]?.started_at ?? null, fields, missing: Object.fromEntries(missing) };
}

// What is asked again at each visit, and the chart, which comes along by itself.
const OF_THE_DAY = ["odometer_km", "units", "chart"];

/**
 * Each pointer that a body sets, on what the page last saw there.
 *
 * @param {Page} page
 * @param {Tree} body
 * @param {Kinds} kinds
 * @returns {OpBody["base"]}
 */
export function baseOf(page, body, kinds) {
  const pointers = leaves(body, "visit.set", kinds).map(([pointer]) => pointer);
  return Object.fromEntries(pointers.map((pointer) => [pointer, page.heads[pointer]?.[0] ?? null]));
}
