// Price lines, discount, tax and total in exact money: whole numbers of millionths and of the currency's smallest unit.
// Pure: no words and no page; it says what sync/kernel/prices.py says of the same lines, rounding half away from zero once a
// line and once a rate.

const MILLION = 1_000_000n;

// A decimal text in millionths; an absent one counts as `empty`.
function millionths(text, empty = "0") {
  const [, sign, whole, part = ""] = /^(-?)(\d+)(?:\.(\d+))?$/.exec(text ?? empty);
  const value = BigInt(whole) * MILLION + BigInt(part.padEnd(6, "0").slice(0, 6));
  return sign === "-" ? -value : value;
}

const magnitude = (value) => (value < 0n ? -value : value);

// `value / by` to a whole number, half away from zero; `by` may be negative.
function halfAway(value, by) {
  const found = (2n * magnitude(value) + magnitude(by)) / (2n * magnitude(by));
  return value < 0n === by < 0n ? found : -found;
}

const tens = (count) => 10n ** BigInt(count);

// What each rate is charged on, after its share of the discount; the last fraction falls on the largest.
function basesOf(lines, off, net) {
  const sums = new Map();
  for (const line of lines) sums.set(line.rate, (sums.get(line.rate) ?? 0n) + line.net);
  if (off === 0n || net === 0n) return sums;
  const shares = new Map([...sums].map(([rate, part]) => [rate, halfAway(off * part, net)]));
  const before = ([rate, part], [otherRate, other]) => part < other || (part === other && rate < otherRate);
  const [largest] = [...sums].reduce((most, one) => (before(most, one) ? one : most));
  const shared = [...shares.values()].reduce((sum, share) => sum + share, 0n);
  shares.set(largest, shares.get(largest) + off - shared);
  return new Map([...sums].map(([rate, part]) => [rate, part - shares.get(rate)]));
}

// {lines: [{net}], net, discount, taxes: [{rate, base, tax}], total}: sums in the currency's smallest unit, rates in
// millionths of a percent, all BigInt. `digits` are the currency's decimals.
export function reckon(charges, discount, digits) {
  const step = tens(12 - digits);
  const lines = charges.map((charge) => ({
    net: halfAway(millionths(charge.quantity, "1") * millionths(charge.unit_price), step),
    rate: millionths(charge.tax_pct),
  }));
  const net = lines.reduce((sum, line) => sum + line.net, 0n);
  const off = halfAway(millionths(discount), tens(6 - digits));
  const rates = [...basesOf(lines, off, net)].sort(([one], [other]) => (one < other ? -1 : 1));
  const all = rates.map(([rate, base]) => ({ rate, base, tax: halfAway(base * rate, 100n * MILLION) }));
  const total = all.reduce((sum, row) => sum + row.tax, net - off);
  return { lines, net, discount: off, taxes: all.filter((row) => row.rate !== 0n), total };
}

// A sum of the smallest unit as people write it: "85.00", "-3", "0.125".
export function moneyText(value, digits) {
  const row = String(magnitude(value)).padStart(digits + 1, "0");
  const text = digits === 0 ? row : `${row.slice(0, -digits)}.${row.slice(-digits)}`;
  return value < 0n ? `\u2212${text}` : text;
}

// A rate in millionths of a percent, without idle noughts: "7.5".
export const rateText = (rate) => moneyText(rate, 6).replace(/\.?0+$/, "");
