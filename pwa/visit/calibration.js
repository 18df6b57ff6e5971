// Which instruments' calibration has run out: those of a visit by the day it began, those of the settings by today.
// Pure: days are texts YYYY-MM-DD, which sort in order of time; no reading is refused because of it.

/** @type {[name: string, path: string[]][]} */
export const INSTRUMENTS = [
  ["low_gauge", ["low_gauge", "calibrated_until"]],
  ["high_gauge", ["high_gauge", "calibrated_until"]],
  ["thermometer", ["thermometer_calibrated_until"]],
  ["hygrometer", ["hygrometer_calibrated_until"]],
];

/** @param {Tree} instruments @param {string[]} path @returns {any} */
const dayOf = (instruments, path) => path.reduce((node, key) => node?.[key], instruments);

/**
 * [{name, path, until}] of those whose last day lies before `day`; the last day itself still holds.
 *
 * @param {Tree} instruments
 * @param {string} day
 */
export function lapsed(instruments, day) {
  const rows = INSTRUMENTS.map(([name, path]) => ({ name, path, until: dayOf(instruments, path) }));
  return rows.filter(({ until }) => typeof until === "string" && until < day);
}

/**
 * The other days that the settings name for those, as instruments of a visit; null where they name none.
 *
 * @param {Lapse[]} over
 * @param {Tree} own
 * @returns {Tree | null}
 */
export function renewed(over, own) {
  const days = over.map(({ path, until }) => ({ path, until, day: dayOf(own, path) }));
  const others = days.filter(({ day, until }) => day && day !== until);
  const named = others.map(({ path: [name, inner], day }) => [name, inner === undefined ? day : { [inner]: day }]);
  return named.length === 0 ? null : Object.fromEntries(named);
}
