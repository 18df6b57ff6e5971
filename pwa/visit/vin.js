// Vehicle identification numbers: what can be said of one at a glance, never a reason to refuse it.
// Pure. Source: 49 CFR 565.15 (transliteration, weights, modulo 11, letters of the model year); numbers from elsewhere
// need carry neither the digit nor the year.

const LETTERS = { A: 1, B: 2, C: 3, D: 4, E: 5, F: 6, G: 7, H: 8, J: 1, K: 2, L: 3, M: 4, N: 5, P: 7, R: 9, S: 2, T: 3, U: 4, V: 5, W: 6, X: 7, Y: 8, Z: 9 };
const WEIGHTS = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];
// The tenth character: one code a year from 1980 on, begun anew in 2010.
const YEARS = "ABCDEFGHJKLMNPRSTVWXY123456789";

const bare = (text) => text.replaceAll(/\s/g, "").toUpperCase();

const isVin = (vin) => /^[A-HJ-NPR-Z0-9]{17}$/.test(vin);

// ISO 3780: the first character of a maker in North America is 1 to 5, of one in Europe S to Z.
const fromNorthAmerica = (vin) => /^[1-5]/.test(vin);

export function checkDigit(vin) {
  let total = 0;
  for (let i = 0; i < WEIGHTS.length; i += 1) total += (LETTERS[vin[i]] ?? Number(vin[i])) * WEIGHTS[i];
  const rest = total % 11;
  return rest === 10 ? "X" : String(rest);
}

// "empty" | "length" | "letters" | "right" | "differs" | "elsewhere" for the text of a VIN, spaces and case aside;
// "elsewhere": made outside North America, where no digit is asked for and none of it fits.
export function vinState(text) {
  const vin = bare(text);
  if (vin === "") return "empty";
  if (!/^[A-HJ-NPR-Z0-9]*$/.test(vin)) return "letters";
  if (vin.length !== 17) return "length";
  if (checkDigit(vin) === vin[8]) return "right";
  return fromNorthAmerica(vin) ? "differs" : "elsewhere";
}

// The model year of a North American number, null for any other. A letter in the seventh place means 2010 or later.
export function modelYear(text) {
  const vin = bare(text);
  if (!isVin(vin) || !fromNorthAmerica(vin)) return null;
  const place = YEARS.indexOf(vin[9]);
  if (place < 0) return null;
  return 1980 + place + (/[A-Z]/.test(vin[6]) ? 30 : 0);
}

// The number inside what a barcode says: some carry a letter I for an imported vehicle in front. Null where none is.
export function vinIn(text) {
  const read = bare(text).replace(/^I(?=.{17}$)/, "");
  return isVin(read) ? read : null;
}
