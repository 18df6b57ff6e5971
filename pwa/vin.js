// Vehicle identification numbers: what can be said of one at a glance, never a reason to refuse it.
// Pure. Source: 49 CFR 565.15 (transliteration, weights, modulo 11); numbers from elsewhere need not carry the digit.

const LETTERS = { A: 1, B: 2, C: 3, D: 4, E: 5, F: 6, G: 7, H: 8, J: 1, K: 2, L: 3, M: 4, N: 5, P: 7, R: 9, S: 2, T: 3, U: 4, V: 5, W: 6, X: 7, Y: 8, Z: 9 };
const WEIGHTS = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];

export function checkDigit(vin) {
  let total = 0;
  for (let i = 0; i < WEIGHTS.length; i += 1) total += (LETTERS[vin[i]] ?? Number(vin[i])) * WEIGHTS[i];
  const rest = total % 11;
  return rest === 10 ? "X" : String(rest);
}

// "empty" | "length" | "letters" | "right" | "differs" for the text of a VIN, spaces and case aside.
export function vinState(text) {
  const vin = text.replaceAll(/\s/g, "").toUpperCase();
  if (vin === "") return "empty";
  if (!/^[A-HJ-NPR-Z0-9]*$/.test(vin)) return "letters";
  if (vin.length !== 17) return "length";
  return checkDigit(vin) === vin[8] ? "right" : "differs";
}
