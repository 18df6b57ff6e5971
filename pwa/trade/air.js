// Humid air at the pressure of the place: humidity ratio, dew point, wet bulb and enthalpy.
// Twin of sync/kernel/air.py; the pressure of water vapour comes from the rulebook's table, the rest is arithmetic.

import { OutOfRange } from "./errors.js";
import { between } from "./interpolation.js";

const VAPOUR_RATIO = 0.621945;
const LOWEST_C = -45;
// Dry air of 105 °C has a wet bulb some 68 K below it.
const WIDEST_K = 75;

export function vapourPressurePa(temperature, rulebook) {
  return between(rulebook.water.t_c, rulebook.water.p_pa, temperature);
}

function ratioOf(vapour, station) {
  const total = station * 1000;
  if (!(vapour >= 0 && vapour < total)) throw new OutOfRange({ value: vapour, low: 0, high: total });
  return (VAPOUR_RATIO * vapour) / (total - vapour);
}

export function humidityRatio(temperature, humidity, station, rulebook) {
  if (!(humidity >= 0 && humidity <= 100)) throw new OutOfRange({ value: humidity, low: 0, high: 100 });
  return ratioOf((humidity / 100) * vapourPressurePa(temperature, rulebook), station);
}

export function dewPointC(temperature, humidity, rulebook) {
  if (!(humidity > 0 && humidity <= 100)) throw new OutOfRange({ value: humidity, low: 0, high: 100 });
  const vapour = (humidity / 100) * vapourPressurePa(temperature, rulebook);
  return between(rulebook.water.p_pa, rulebook.water.t_c, vapour);
}

function ratioAtWetBulb(temperature, wet, station, rulebook) {
  const saturated = ratioOf(vapourPressurePa(wet, rulebook), station);
  if (wet >= 0) {
    const top = (2501 - 2.326 * wet) * saturated - 1.006 * (temperature - wet);
    return top / (2501 + 1.86 * temperature - 4.186 * wet);
  }
  const top = (2830 - 0.24 * wet) * saturated - 1.006 * (temperature - wet);
  return top / (2830 + 1.86 * temperature - 2.1 * wet);
}

export function wetBulbC(temperature, humidity, station, rulebook) {
  const wanted = humidityRatio(temperature, humidity, station, rulebook);
  let low = temperature - WIDEST_K;
  if (!(low >= LOWEST_C)) low = LOWEST_C;
  let high = temperature;
  const boiling = 990 * station;
  if (vapourPressurePa(high, rulebook) > boiling) high = between(rulebook.water.p_pa, rulebook.water.t_c, boiling);
  if (!(ratioAtWetBulb(temperature, low, station, rulebook) <= wanted)) {
    throw new OutOfRange({ value: temperature, low: LOWEST_C, high });
  }
  let i = 0;
  while (i < 17) {
    const middle = low + (high - low) / 2;
    if (ratioAtWetBulb(temperature, middle, station, rulebook) < wanted) low = middle;
    else high = middle;
    i = i + 1;
  }
  return low + (high - low) / 2;
}

export function enthalpyKjKg(temperature, ratio) {
  return 1.006 * temperature + ratio * (2501 + 1.86 * temperature);
}
