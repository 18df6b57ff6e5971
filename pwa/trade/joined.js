// What two or three readings make together: ratios and differences that differ little between healthy cars.
// Twin of sync/kernel/combined.py; evidence of causes only, no derived quantity of the judgement. Nothing is judged here.

import { rootSum } from "./inputs.js";

// A ratio of two quantities with its standard uncertainty, as if they were independent.
function over(above, below) {
  const ratio = above.value / below.value;
  return { value: ratio, u: rootSum([above.u, ratio * below.u]) / below.value };
}

// How far the air is cooled of all that the evaporator could cool it; the vent counts in it once.
function airEffectiveness(inputs, derived, leastK) {
  const evaporating = derived.low_saturation_c;
  if (derived.vent_drop_k === undefined || evaporating === undefined) return null;
  const { entering_c: entering, vent_c: vent } = inputs.values;
  const most = entering - evaporating.value;
  if (most < leastK) return null;
  const share = (entering - vent) / most;
  const parts = [inputs.u.vent_c, (1 - share) * inputs.u.entering_c, share * evaporating.u];
  return { value: share, u: rootSum(parts) / most };
}

export function joinedOf(inputs, derived, least) {
  const found = {};
  const effectiveness = airEffectiveness(inputs, derived, least.most_drop_k);
  if (effectiveness !== null) found.air_effectiveness = effectiveness;
  const { vent_drop_k: drop, condenser_split_k: split, subcooling_k: subcooling, superheat_k: superheat } = derived;
  if (drop !== undefined && drop.value >= least.vent_drop_k) {
    if (split !== undefined) found.split_over_drop = over(split, drop);
    if (derived.on_share !== undefined) {
      const share = over(derived.on_share, drop);
      found.share_over_drop = { value: 10 * share.value, u: 10 * share.u };
    }
  }
  if (split !== undefined && split.value >= least.condenser_split_k && subcooling !== undefined) {
    found.subcooling_over_split = over(subcooling, split);
  }
  const discharge = derived.discharge_over_condensing_k;
  if (discharge !== undefined && superheat !== undefined) {
    const u = rootSum([discharge.u, superheat.u]);
    found.discharge_over_superheat_k = { value: discharge.value - superheat.value, u };
  }
  return found;
}
