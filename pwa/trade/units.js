// Units: what a person typed to the canonical number and back, and the one rule of rounding.
// Twin of sync/kernel/units.py; factors are rulebook data, no other module converts.

import { UnknownName } from "./errors.js";

function unitRow(quantity, unit, rulebook) {
  const units = rulebook.units[quantity];
  if (units === undefined || units.units === undefined || units.units[unit] === undefined) {
    throw new UnknownName({ what: "unit", name: quantity + " in " + unit });
  }
  return units.units[unit];
}

export function toCanonical(quantity, unit, number, rulebook) {
  const row = unitRow(quantity, unit, rulebook);
  return number * row.scale + row.offset;
}

export function fromCanonical(quantity, unit, value, rulebook) {
  const row = unitRow(quantity, unit, rulebook);
  return (value - row.offset) / row.scale;
}

// Rounded half away from zero, never to a negative zero: the rounding that people do by hand.
export function roundHalfAway(number, decimals) {
  let scale = 1;
  let i = 0;
  while (i < decimals) {
    scale = scale * 10;
    i = i + 1;
  }
  const scaled =
    number < 0 ? -Math.floor(-number * scale + 0.5) / scale : Math.floor(number * scale + 0.5) / scale;
  return scaled === 0 ? 0 : scaled;
}
