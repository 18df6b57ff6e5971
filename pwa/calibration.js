// Which instruments' calibration has run out: those of a visit by the day it began, those of the settings by today.
// Pure: days are texts YYYY-MM-DD, which sort as they follow one another; a reading is never refused for it.

export const INSTRUMENTS = [
  ["low gauge", ["low_gauge", "calibrated_until"]],
  ["high gauge", ["high_gauge", "calibrated_until"]],
  ["thermometer", ["thermometer_calibrated_until"]],
  ["hygrometer", ["hygrometer_calibrated_until"]],
];

// [{name, until}] of those whose last day lies before `day`; the last day itself still holds.
export function lapsed(instruments, day) {
  const found = INSTRUMENTS.map(([name, path]) => ({ name, until: path.reduce((node, key) => node?.[key], instruments) }));
  return found.filter(({ until }) => typeof until === "string" && until < day);
}
