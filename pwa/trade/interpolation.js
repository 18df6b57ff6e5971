// Linear look-up in rising columns: the one way the twinned rules read a table.
// Twin of sync/kernel/interpolation.py; nothing here knows what the columns mean, and nothing extrapolates.

import { OutOfRange } from "./errors.js";

export function between(xs, ys, x) {
  const last = xs.length - 1;
  if (!(xs[0] <= x && x <= xs[last])) throw new OutOfRange({ value: x, low: xs[0], high: xs[last] });
  let low = 0;
  let high = last;
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (x < xs[middle]) high = middle;
    else low = middle;
  }
  return ys[low] + ((x - xs[low]) / (xs[high] - xs[low])) * (ys[high] - ys[low]);
}
