// What a visit takes from the phone's settings: the units it is typed in, and what its first operation says.
// Settings and the phone's language are handed in, and so is what keeps them.

const CUSTOMARY = { pressure: "psi", temperature: "f", altitude: "ft", mass: "oz", distance: "mi", vacuum: "micron" };
/** @type {Record<string, string>} */
const METRIC = { pressure: "bar", temperature: "c", altitude: "m", mass: "g", distance: "km", vacuum: "pa" };

/**
 * What a phone starts with, by where its language says it is; the settings change it.
 *
 * @param {string} language BCP 47
 * @returns {Settings["units"]}
 */
export const firstUnits = (language) => (/-(US|LR|MM)$/.test(language) ? { ...CUSTOMARY } : { ...METRIC });

/** The unit a field is typed in; none where its quantity has none. @param {Field} field @param {Settings} settings */
export function unitFor(field, settings) {
  if (field.quantity === undefined) return undefined;
  const isCustomary = settings.units.pressure === CUSTOMARY.pressure;
  if (field.unit !== undefined) return isCustomary ? (field.customary ?? field.unit) : field.unit;
  return settings.units[field.quantity] ?? METRIC[field.quantity];
}

/**
 * The body of the operation that opens a visit. `vacuum` has a unit on the phone only: the record names no such unit.
 *
 * @param {Settings} settings
 * @param {string} startedAt ISO 8601
 * @returns {Opening}
 */
export function openingOf(settings, startedAt) {
  const units = Object.fromEntries(Object.entries(settings.units).filter(([quantity]) => quantity !== "vacuum"));
  /** @type {Opening} */
  const opening = { started_at: startedAt, units: { technician: units } };
  const technician = Object.fromEntries(Object.entries(settings.technician ?? {}).filter(([, value]) => value));
  if (Object.keys(technician).length > 0) opening.technician = technician;
  if (Object.keys(settings.instruments ?? {}).length > 0) opening.instruments = settings.instruments;
  if (settings.currency) opening.currency = settings.currency.toUpperCase();
  return opening;
}

/**
 * Signs this phone in as somebody, or as nobody; resolves with whether it was somebody else before.
 *
 * @param {{outbox: Outbox, settings: () => Settings, save: (next: Settings) => void}} parts
 * @returns {SignedAs}
 */
export const createSignIn = ({ outbox, settings, save }) => async (person) => {
  const { id, ...own } = settings().technician ?? {};
  if (id === person?.id) return false;
  // Another's name and certificate would stand on what this person does.
  const technician = person && id ? { business: own.business } : own;
  if (person) Object.assign(technician, { name: technician.name || person.name, id: person.id });
  save({ ...settings(), technician });
  // What was handed over to this person before comes by again.
  await outbox.remember("changes_cursor", "");
  return true;
};
