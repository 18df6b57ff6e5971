// What each step of a visit asks, in the trade's order: fields as data, read by the form and by the page of a visit.
// No screen, no store and no rule of judgement; codes come from the rulebook's vocabularies, by name.

/** @param {string} path @param {string} label @param {Partial<Field>} [more] @returns {Field} */
export const text = (path, label, more = {}) => ({ kind: "text", path: path.split("."), label, ...more });
/** @param {string} path @param {string} label @param {Partial<Field>} [more] @returns {Field} */
export const number = (path, label, more = {}) => ({ kind: "number", path: path.split("."), label, ...more });
/**
 * @param {string} path
 * @param {string} label
 * @param {string | null} vocabulary
 * @param {Partial<Field>} [more]
 * @returns {Field}
 */
export const choice = (path, label, vocabulary, more = {}) => (
  { kind: "choice", path: path.split("."), label, vocabulary, ...more }
);
/** @param {string} path @param {string} label @param {Partial<Field>} [more] @returns {Field} */
const flag = (path, label, more = {}) => ({ kind: "flag", path: path.split("."), label, ...more });
/** @param {string} path @param {string} label @param {Partial<Field>} [more] @returns {Field} */
const money = (path, label, more = {}) => ({ kind: "money", path: path.split("."), label, ...more });
/** @param {string} label @returns {Mark} */
const heading = (label) => ({ kind: "heading", label });

/** @type {StepPart[]} */
const CUSTOMER = [
  text("customer.name", "Customer", { offers: "customer" }),
  text("customer.phone", "Telephone", { inputmode: "tel", most: 60 }),
  text("customer.email", "Mail address for the sheet", { inputmode: "email" }),
  text("customer.address", "Address"),
  choice("units.customer.pressure", "Pressures on the sheet", null, { unitsOf: "pressure" }),
  choice("units.customer.temperature", "Temperatures on the sheet", null, { unitsOf: "temperature" }),
  heading("Place"),
  text("place.label", "Where the vehicle stands"),
  number("place.altitude_m", "Altitude", { quantity: "altitude" }),
  number("place.station_pressure_kpa", "Pressure of the place", {
    quantity: "pressure",
    unit: "kpa",
    note: "measured here, not from a forecast",
  }),
  text("customer.id", "", { hidden: true }),
];

/** @type {StepPart[]} */
const VEHICLE = [
  text("vehicle.plate", "Plate", { capitals: true, most: 40, offers: "vehicle" }),
  text("vehicle.vin", "VIN", { capitals: true, check: "vin", most: 40, offers: "vehicle" }),
  text("vehicle.make", "Make", { most: 100 }),
  text("vehicle.model", "Model and colour", { most: 100 }),
  number("vehicle.year", "Year", { integer: true }),
  number("vehicle.odometer_km", "Odometer", { quantity: "distance" }),
  choice("vehicle.powertrain", "Drive", "powertrain"),
  choice("vehicle.refrigerant", "Refrigerant in it now", "refrigerant"),
  text("vehicle.refrigerant_text", "Which one", { when: ["vehicle.refrigerant", ["other"]] }),
  heading("Under-hood label"),
  text("vehicle.label_refrigerant", "Refrigerant on the label", { most: 100 }),
  number("vehicle.charge_spec_g", "Charge", { quantity: "mass" }),
  text("vehicle.oil", "Oil", { most: 100 }),
  heading("The circuit"),
  choice("vehicle.compressor", "Compressor", "compressor"),
  choice("vehicle.metering", "Metering", "metering"),
  choice("vehicle.evaporators", "Evaporators", "evaporators", { counted: true }),
  flag("vehicle.internal_exchanger", "Internal heat exchanger", { when: ["vehicle.refrigerant", ["R1234yf", "R744"]] }),
  { kind: "chart", path: ["vehicle", "chart"], label: "Maker's chart" },
  text("vehicle.id", "", { hidden: true }),
];

// What some fields lean on: the drive, how the compressor runs, of which kind it is.
/** @type {[string, string[]]} */
const BATTERY_DRIVEN = ["vehicle.powertrain", ["hybrid", "electric"]];
/** @type {[string, string[]]} */
const CYCLING = ["readings.running", ["cycling"]];
/** @type {[string, string[]]} */
const COMMANDED = ["vehicle.compressor", ["variable", "variable_external", "electric"]];

const SETTINGS_HELD = [
  choice("conditions.blower", "Blower", "blower", { carried: true }),
  choice("conditions.air", "Air", "air", { carried: true }),
  choice("conditions.fan", "Condenser fan", "fan"),
  choice("conditions.windows", "Windows", "windows", { carried: true }),
  choice("conditions.rear", "Rear system", "rear", { carried: true }),
  flag("conditions.hood_open", "Hood open", { carried: true }),
  flag("conditions.in_sun", "In the sun"),
  choice("conditions.mode", "What it cools", "mode", { carried: true, when: BATTERY_DRIVEN }),
  flag("conditions.charging", "Charging", { when: BATTERY_DRIVEN }),
];

/** @type {StepPart[]} */
const READINGS = [
  number("conditions.running_min", "Minutes running", {
    suffix: "min", clock: { name: "running", start: "Running from now" },
  }),
  number("conditions.rpm", "Engine speed", { suffix: "/min" }),
  number("conditions.ambient_c", "Ambient at the face", { quantity: "temperature", large: true, meaning: "ambient" }),
  number("conditions.humidity_pct", "Humidity", { suffix: "%", large: true }),
  choice("readings.running", "The compressor runs", "running"),
  number("readings.low_kpa_g", "Low side", { quantity: "pressure", large: true, side: "low", meaning: "low" }),
  number("readings.low_max_kpa_g", "Low side, highest", {
    quantity: "pressure", large: true, side: "low", when: CYCLING,
  }),
  number("readings.high_kpa_g", "High side", { quantity: "pressure", large: true, side: "high", meaning: "high" }),
  choice("readings.high_port", "High side port on", "high_port", { when: ["readings.high_kpa_g", null] }),
  number("readings.high_max_kpa_g", "High side, highest", {
    quantity: "pressure", large: true, side: "high", when: CYCLING,
  }),
  number("readings.command_pct", "Compressor command", { suffix: "%", when: COMMANDED }),
  number("conditions.compressor_rpm", "Compressor speed", {
    suffix: "/min", when: ["vehicle.compressor", ["electric"]],
  }),
  { kind: "taps", label: "Compressor on and off", when: CYCLING },
  number("readings.on_s", "Compressor on for", { suffix: "s", when: CYCLING }),
  number("readings.off_s", "Compressor off for", { suffix: "s", when: CYCLING }),
  number("readings.vent_c", "Vent, centre", { quantity: "temperature", large: true, meaning: "vent" }),
  number("readings.vent_left_c", "Vent, left", { quantity: "temperature", when: ["readings.vent_c", null] }),
  number("readings.vent_right_c", "Vent, right", { quantity: "temperature", when: ["readings.vent_c", null] }),
  number("readings.return_air_c", "Return air", { quantity: "temperature", large: true, meaning: "return_air" }),
  number("readings.return_air_humidity_pct", "Humidity of the return air", {
    suffix: "%", when: ["readings.return_air_c", null],
  }),
  number("readings.suction_line_c", "Suction line", { quantity: "temperature", large: true, meaning: "suction_line" }),
  choice("readings.suction_at", "Suction clamp at", "suction_at", { when: ["readings.suction_line_c", null] }),
  number("readings.liquid_line_c", "Liquid line", { quantity: "temperature", large: true, meaning: "liquid_line" }),
  choice("readings.liquid_at", "Liquid clamp at", "liquid_at", { when: ["readings.liquid_line_c", null] }),
  number("readings.discharge_line_c", "Discharge line", {
    quantity: "temperature", large: true, meaning: "discharge_line",
  }),
];

/** @param {boolean} asksFace @returns {StepPart[]} */
const test = (asksFace) => [
  ...SETTINGS_HELD.map((field) => ({ ...field, held: true })),
  ...(asksFace
    ? [
        flag("conditions.face_wet", "Condenser face wet"),
        number("conditions.rinsed_min_ago", "Rinsed", {
          suffix: "min ago", clock: { name: "rinsed", start: "Rinsed now" },
        }),
      ]
    : []),
  ...READINGS,
  { kind: "codes", path: ["observed"], label: "Seen and heard", vocabulary: "observed", noted: true },
  text("note", "Note", { long: true, noted: true }),
];

/**
 * Items of lists. `slot` tells which item of the list an entry means: the one with that code, or the only one.
 *
 * @param {ListName} list
 * @param {string} slot
 * @param {Field[]} fields
 * @param {Partial<Item>} [more]
 * @returns {Item}
 */
const item = (list, slot, fields, more = {}) => ({ kind: "item", list, slot, label: null, base: {}, fields, ...more });

// Work with a cleaner is asked for its mix; the label governs over whatever the sum says.
const CLEANED = ["condenser_cleaned", "gap_cleaned"];
const CLEANER = [
  number("cleaner.parts_cleaner", "Parts of cleaner"),
  number("cleaner.parts_water", "Parts of water"),
  number("cleaner.made_ml", "Made up", { suffix: "ml" }),
  number("cleaner.passes", "Passes", { integer: true }),
  number("cleaner.dwell_min", "Left on", {
    suffix: "min", clock: { name: "dwell", start: "The cleaner is on", stop: "Rinsed now", then: "rinsed" },
  }),
];

/** @param {string} code */
const workItem = (code) => {
  const cleaned = CLEANED.includes(code);
  const fields = [number("minutes", "Minutes", { suffix: "min" }), ...(cleaned ? CLEANER : []), text("note", "Note")];
  return item("work", code, fields, { base: { code }, timed: true, mixed: cleaned });
};

// What each kind of move of refrigerant is asked; every kind may carry a note in `result`.
const MOVED = [
  number("grams", "Mass", { quantity: "mass" }),
  number("cylinder_before_g", "Cylinder before", { quantity: "mass" }),
  number("cylinder_after_g", "Cylinder after", { quantity: "mass" }),
  text("cylinder", "Cylinder", { most: 100 }),
  choice("quality", "Quality", "quality"),
  choice("refrigerant", "Refrigerant, if not the vehicle's", "refrigerant"),
];
const POURED = [number("ml", "Amount", { suffix: "ml" })];
const HELD = [number("held_min", "Held", { suffix: "min", clock: { name: "hold", start: "Holding from now" } })];
/** @type {Record<string, Field[]>} */
const MOVE_FIELDS = {
  recovered: MOVED,
  charged: MOVED,
  oil_added: POURED,
  oil_recovered: POURED,
  dye_added: POURED,
  identified: [
    choice("refrigerant", "Found in it", "refrigerant"),
    number("purity_pct", "Purity", { suffix: "%" }),
    number("air_pct", "Air", { suffix: "%" }),
  ],
  leak_test: [],
  nitrogen_test: HELD,
  vacuum: [
    number("pressure_pa", "Down to", { quantity: "vacuum" }),
    ...HELD,
    number("rise_pa", "Rise while held", { quantity: "vacuum" }),
  ],
};

/** @param {string} kind */
const moveItem = (kind) => {
  const fields = [...(MOVE_FIELDS[kind] ?? []), text("result", "Result", { most: 500 })];
  return item("refrigerant_moves", kind, fields, { base: { kind }, timed: true, weighed: MOVE_FIELDS[kind] === MOVED });
};

/** @param {string} code */
const consentItem = (code) => item("consent", code, [], { base: { code }, timed: true });

// Told while the system runs, so the key that calls all that was looked at in order leaves them out.
const RUNNING = ["air_strong", "stays_cold", "frost_free", "compressor_quiet"];

/** @param {string} code */
const checkItem = (code) => {
  const group = RUNNING.includes(code) ? "running" : "checks";
  return item("checks", code, [choice("state", "", "check_state")], { base: { code }, group });
};

const REST = item(
  "rests",
  "rest",
  [
    number("hours_off", "Engine off for", { suffix: "h" }),
    number("low_kpa_g", "Low side at rest", { quantity: "pressure", large: true, side: "low" }),
    number("high_kpa_g", "High side at rest", { quantity: "pressure", large: true, side: "high" }),
    number("metal_c", "Condenser metal", { quantity: "temperature", large: true }),
    number("air_c", "Air", { quantity: "temperature", large: true }),
  ],
  { label: "Rest reading, engine off for hours", timed: true },
);

const ADVICE = item("advice", "advice", [text("text", "Advice for the customer", { long: true })]);

/** @type {StepPart[]} */
const FINISH = [
  choice("outcome", "How the visit ends", "outcome"),
  text("next_visit", "Next visit", { note: "a day, or what it waits for" }),
  number("distance_km", "Distance driven", { quantity: "distance" }),
  money("discount", "Discount", { priced: true }),
  text("currency", "Currency", { capitals: true, most: 3, priced: true, note: "three letters, for example EUR" }),
  choice("paid.method", "Paid", "paid", { priced: true }),
  text("paid.at", "Paid at", { hidden: true }),
];

/** @param {string} slot */
const chargeLine = (slot) =>
  item("charges", slot, [
    text("text", "What for", { most: 500 }),
    money("unit_price", "Each, without tax"),
    money("quantity", "Quantity", { empty: "1" }),
    money("tax_pct", "Tax", { suffix: "%" }),
  ], { label: "A line", repeated: true });

/** `then` names what comes after a step, for the key that goes there. @type {Step[]} */
export const STEPS = [
  {
    slug: "customer", then: "the vehicle", title: "Customer and place", fields: CUSTOMER, items: [],
    listed: [["consent", consentItem]],
  },
  { slug: "vehicle", then: "the cautions", title: "Vehicle", fields: VEHICLE, items: [], photos: ["arrival", "label"] },
  { slug: "cautions", then: "the look round", title: "Cautions", fields: [], items: [] },
  {
    slug: "look", then: "the test before", title: "Look round", items: [REST], listed: [["checks", checkItem]],
    fields: [text("complaint", "What the customer says", { long: true })],
  },
  {
    slug: "before", then: "the work", title: "Before", role: "before", fields: test(false), items: [],
    photos: ["before"],
  },
  {
    slug: "work", then: "the test after", title: "Work", fields: [], items: [],
    listed: [["work", workItem], ["move", moveItem]], photos: ["other"],
  },
  {
    slug: "after", then: "the result", title: "After", role: "after", fields: test(true), items: [],
    photos: ["after"],
  },
  { slug: "result", title: "Result", fields: FINISH, items: [ADVICE], repeated: { list: "charges", make: chargeLine } },
];

/** @param {string | undefined} slug @returns {Step} */
export const stepOf = (slug) => STEPS.find((step) => step.slug === slug) ?? STEPS[0];

/** The fields that hold something: neither headings nor keys. @param {StepPart[]} fields */
export const entries = (fields) => fields.filter((field) => field.path !== undefined);

/** The field of that path, its parts joined by points. @param {StepPart[]} fields @param {string} name */
export const fieldNamed = (fields, name) => entries(fields).find((field) => field.path.join(".") === name);
