// Customers and vehicles that this phone has written down before, to be offered again instead of typed.
// Pure: views of visits in, records out, newest first; nothing is kept or shown here.

const told = (...parts) => parts.filter((part) => part).join(", ");

// {label, sought, group, values: {path: value}, typed} for what one visit says of a customer or a vehicle.
function recordOf(group, visit, label, sought) {
  const { odometer_km: _, baseline: __, ...kept } = visit[group];
  const values = Object.fromEntries(Object.entries(kept).map(([name, value]) => [`${group}.${name}`, value]));
  return { label, sought: sought.filter((part) => part).join(" ").toLowerCase(), group, values, typed: visit.typed ?? {}, customer: visit.customer?.name };
}

function customerOf(visit) {
  const { name, phone, email, address } = visit.customer ?? {};
  return name === undefined ? null : recordOf("customer", visit, told(name, address ?? phone ?? email), [name, phone, email, address]);
}

function vehicleOf(visit) {
  const { plate, vin, make, model } = visit.vehicle ?? {};
  if (plate === undefined && vin === undefined) return null;
  return recordOf("vehicle", visit, told(plate ?? vin, [make, model].filter((part) => part).join(" ")), [plate, vin]);
}

// {customer: [...], vehicle: [...]}, each label once, from every other visit on the phone.
export function recordsOf(views, visit) {
  const others = views.filter((view) => view.id !== visit).map((view) => view.visit);
  others.sort((one, other) => (one.started_at < other.started_at ? 1 : -1));
  const once = (records) => [...new Map(records.filter((one) => one !== null).toReversed().map((one) => [one.label, one])).values()].toReversed();
  return { customer: once(others.map(customerOf)), vehicle: once(others.map(vehicleOf)) };
}

// The last test before the work that was taken in another visit: how this technician tests.
export function lastTestOf(views, visit) {
  const tests = views.filter((view) => view.id !== visit).flatMap((view) => view.visit.tests ?? []).filter((test) => test.role === "before");
  return tests.sort((one, other) => Date.parse(one.at) - Date.parse(other.at)).at(-1);
}

const LEAST = 2;

// Those that what is typed may mean: by its letters, or for a vehicle nobody typed yet, the customer's own.
export function matching(records, text, customer) {
  const sought = text.trim().toLowerCase();
  if (sought === "") return customer === undefined ? [] : records.filter((one) => one.group === "vehicle" && one.customer === customer);
  return sought.length < LEAST ? [] : records.filter((one) => one.sought.includes(sought));
}
