// Who a vehicle or customer is: the id it bears in other visits on this phone, or a new one; and what stands on its card.
// Pure: visits, operations, baselines and new ids are handed in; a person's words are never changed.

import { card_of, leaves, marks_of, subjects_of } from "../kernel.js";

// A plate, VIN or telephone as it is compared: no spaces or signs, capitals alike.
const bare = (text) => (text ?? "").toUpperCase().replaceAll(/[\s./()+-]/g, "");

const alike = (one, other) => bare(one) !== "" && bare(one) === bare(other);

// The visits of other views that name the part, newest first.
const others = (visit, views, part) =>
  views
    .map((view) => view.visit)
    .filter((one) => one.id !== visit.id && one[part]?.id !== undefined && !one.void)
    .sort((one, other) => (one.started_at < other.started_at ? 1 : -1));

function knownVehicle(visit, views) {
  const { vin, plate } = visit.vehicle ?? {};
  const known = others(visit, views, "vehicle").map((one) => one.vehicle);
  // A plate moves from car to car; two numbers that differ are two cars.
  const fits = (one) => alike(one.plate, plate) && (!one.vin || !vin || alike(one.vin, vin));
  return (known.find((one) => alike(one.vin, vin)) ?? known.find(fits))?.id ?? null;
}

function knownCustomer(visit, views, vehicle) {
  const mine = visit.customer ?? {};
  const same = (one) => {
    const { name, phone, email, address } = one.customer;
    if (alike(phone, mine.phone) || alike(email, mine.email)) return true;
    return alike(name, mine.name) && (alike(address, mine.address) || (vehicle !== null && one.vehicle?.id === vehicle));
  };
  return others(visit, views, "customer").find(same)?.customer.id ?? null;
}

// Two phones that never met give a car with a readable VIN or plate the same id.
function vehicleName({ vin, plate }, fresh) {
  if (/^[0-9A-Z]{17}$/.test(bare(vin))) return `vin-${bare(vin)}`;
  return /^[0-9A-Z]{2,20}$/.test(bare(plate)) ? `plate-${bare(plate)}` : fresh();
}

// What a visit still has to say of who its vehicle and customer are: {vehicle: {id}, customer: {id}}, each only where it
// changes something. With `fresh` those that nobody knows get a new id; without, they wait for the end of the visit.
export function identityOf(visit, views, fresh = null) {
  const found = {};
  const { vehicle = {}, customer = {} } = visit;
  const named = vehicle.vin || vehicle.plate;
  const car = named ? (knownVehicle(visit, views) ?? vehicle.id ?? (fresh && vehicleName(vehicle, fresh))) : null;
  if (car && car !== vehicle.id) found.vehicle = { id: car };
  const person = customer.name || customer.phone || customer.email;
  const who = person && customer.id === undefined ? (knownCustomer(visit, views, car) ?? (fresh && fresh())) : null;
  if (who) found.customer = { id: who };
  return found;
}

// The baseline a visit should carry: what the desk handed over, without this visit's own tests; null where there is
// nothing to write. A finished visit keeps the one it was judged by.
export function baselineFor(visit, baseline) {
  if (baseline === undefined || visit.ended_at !== undefined) return null;
  const entries = baseline.entries.filter((entry) => entry.visit !== visit.id);
  const kept = visit.vehicle?.baseline;
  if (entries.length === 0 && kept === undefined) return null;
  const next = { ...baseline, entries };
  return JSON.stringify(next) === JSON.stringify(kept) ? null : next;
}

// The names under which an operation beside the visits is kept: "vehicle <id>", "customer <id>".
export function cardsOf(op, kinds) {
  return subjects_of(op, kinds).map(([what, id]) => `${what} ${id}`);
}

// The last word on a test among the operations of a vehicle's card: true, false, or null where nobody said.
export function markOf(ops, visit, test, kinds) {
  return marks_of(ops, kinds)[visit]?.[test] ?? null;
}

// What is known of the vehicle or customer from other visits and the card, and what of that this visit does not say yet;
// null where nothing is known.
export function offerOf(what, visit, views, ops, kinds) {
  const id = visit[what]?.id;
  const mine = others(visit, views, what).filter((one) => one[what].id === id);
  if (id === undefined || visit.ended_at !== undefined || (mine.length === 0 && ops.length === 0)) return null;
  const stated = mine.map((one) => ({ at: Date.parse(one.started_at), fields: one[what] }));
  const { fields } = card_of(what, stated, ops, kinds);
  const missing = Object.entries(fields).filter(([name]) => visit[what][name] === undefined && !OF_THE_DAY.includes(name));
  return { seen: mine[0]?.started_at ?? null, fields, missing: Object.fromEntries(missing) };
}

// What is asked anew at each visit.
const OF_THE_DAY = ["odometer_km", "units"];

// Each pointer that a body sets, on what the page last saw there.
export function baseOf(page, body, kinds) {
  return Object.fromEntries(leaves(body, "visit.set", kinds).map(([pointer]) => [pointer, page.heads[pointer]?.[0] ?? null]));
}
