// Saturation of the refrigerants and the pressure of the place, from the rulebook's tables.
// Twin of sync/kernel/saturation.py; only absolute pressures come in and go out, and no property library is read.

import { UnknownName } from "./errors.js";
import { between } from "./interpolation.js";

export function tableOf(refrigerant, rulebook) {
  const rows = rulebook.refrigerants.refrigerants;
  const row = Object.prototype.hasOwnProperty.call(rows, refrigerant) ? rows[refrigerant] : null;
  if (row === null || row.table === null) throw new UnknownName({ what: "refrigerant", name: refrigerant });
  return rulebook[row.table];
}

export function temperatureC(refrigerant, pressure, rulebook) {
  const table = tableOf(refrigerant, rulebook);
  return between(table.p_kpa, table.t_c, pressure);
}

export function pressureKpa(refrigerant, temperature, rulebook) {
  const table = tableOf(refrigerant, rulebook);
  return between(table.t_c, table.p_kpa, temperature);
}

export function stationKpa(altitude, rulebook) {
  const table = rulebook.atmosphere;
  return between(table.altitude_m, table.p_kpa, altitude);
}
