// The page's own sentences: states, faults, counts and times. Words for the rulebook's codes come from the rulebook.
// No element is made here and nothing is decided.

/** @type {Record<VisitState, string>} */
export const STATES = { waiting: "waiting", filed: "filed", refused: "refused", written: "being written" };

/** How the visit's sheet stands at the desk. @type {Record<string, string>} */
export const SHEETS = {
  made: "sheet made",
  approved: "sheet approved",
  queued: "sheet on its way",
  sent: "sheet sent",
  failed: "sheet not sent",
};

/** @type {Record<string, string>} */
export const READ_FAULTS = {
  no_number: "This is not a number, so no reading is kept. It stays here as you wrote it.",
  two_readings: "This can be read two ways. Write it with one mark, for example 1250.5.",
  no_amount: "This is no amount of money with at most six decimals. It stays here as you wrote it.",
  half_range: "Enter both ends. For a single figure, enter it twice.",
  range_reversed: "The first figure is above the second. Enter the lower one first.",
  no_ambient: "Enter the temperature that this row is for.",
  no_rows: "Enter at least one row.",
  no_whole_number: "A whole number is needed here. It stays here as you wrote it.",
};

/** @type {Record<string, string>} */
const FAULTS = {
  disk_full:
    "This phone's storage is full, so that was not saved. Free some space; what you typed is still on the screen.",
  answer_full:
    "This phone's storage is full, so the desk's answer could not be noted. "
    + "Everything stays here and is sent again. Free some space.",
  order_taken: "Another open page wrote at the same moment, so that was not saved. Press once more.",
  unavailable: "This browser did not open its storage, so that was not saved. What you typed is still on the screen.",
  newer_page: "A newer Layby has this phone's storage open. Load this page again; what was saved is there.",
  no_picture: "This browser cannot read that picture, so it was not kept. Take it as JPEG or PNG.",
  photo_full:
    "There is too little room left on this phone for a picture, so it was not kept. "
    + "What you write is still kept. Free some space, or send what waits.",
  too_long: "This is longer than one entry may be (128 kB), so it was not saved as an entry. Shorten the note.",
  not_reached: "The desk does not answer. Everything stays on this phone and is sent later.",
  not_paired: "This phone is not paired with a desk yet. Everything stays here; pair it in Settings.",
  shut_out:
    "The desk no longer knows this phone. Sending is paused and everything stays here; pair it again in Settings.",
  wrong_code:
    "The desk does not take this code. It may have been used or run out: show a new one at the desk and try that.",
  digits_void:
    "The eight digits have run out or were tried too often. Scan the QR code beside them, which still works, "
    + "or show a new code at the desk.",
  already_paired:
    "The desk knows this phone already, and this page could not show that it is the same. "
    + "Revoke it on the desk's page of phones, then try the code again. Everything stays here.",
  too_large: "The desk finds the parcel too large. Everything stays on this phone.",
  desk_full: "The desk's disk is nearly full. Everything stays on this phone and is sent later.",
  desk_fault: "The desk could not take it now. Everything stays on this phone and is sent later.",
  not_understood: "The answer was not the desk's. Everything stays on this phone and is sent later.",
};

/** @type {Record<string, string>} */
export const PHOTO_STATES = { waiting: "waiting", held: "filed", filed: "filed", struck: "struck" };

/** @type {Record<string, string>} */
export const PHOTO_FAULTS = {
  photo_too_large: "refused: the desk finds it too large. Strike it and take it again.",
  photo_no_picture: "refused: the desk finds no picture in it. Strike it and take it again.",
  photo_damaged: "refused: it was damaged in this phone's storage. Strike it and take it again.",
};

/** "2 photos still to be carried, 1 refused." or null. @param {{waiting: number, refused: number}} photos */
export function photosWords({ waiting, refused }) {
  const parts = [];
  if (waiting > 0) parts.push(`${counted(waiting, "photo", "photos")} still to be sent`);
  if (refused > 0) parts.push(`${counted(refused, "photo", "photos")} refused`);
  return parts.length === 0 ? null : `${parts.join(", ")}.`;
}

/** @param {{sent: number, photos: number}} outcome */
export function sentWords({ sent, photos }) {
  const parts = [];
  if (sent > 0) parts.push(counted(sent, "entry", "entries"));
  if (photos > 0) parts.push(counted(photos, "photo", "photos"));
  return parts.length === 0 ? "Nothing was waiting." : `${parts.join(" and ")} answered by the desk.`;
}

/** @param {any} error */
export const faultWords = (error) =>
  FAULTS[error.code] ?? `Something went wrong: ${error.message}. Nothing that was saved is lost.`;

/**
 * A code in the rulebook's words; the code itself, spaced, where none are kept.
 *
 * @param {Rulebook} rulebook
 * @param {string} code
 * @param {string | null} [group]
 * @returns {string}
 */
export function codeWords(rulebook, code, group = null) {
  const codes = rulebook.words?.terms ?? {};
  const words = (group === null ? undefined : codes[group]?.[code]) ?? codes[code];
  return typeof words === "string" ? words : code.replaceAll("_", " ");
}

/**
 * A sentence with its blanks filled; a blank without a value stays as it stands.
 *
 * @param {string} text
 * @param {Record<string, string>} values
 */
export const filled = (text, values) => text.replace(/{(\w+)}/g, (blank, name) => values[name] ?? blank);

/** @param {string} words */
export const sentenceCase = (words) => words.charAt(0).toUpperCase() + words.slice(1);

const SMALL = [
  "No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten", "Eleven", "Twelve",
];

/** @param {number} number */
export const inWords = (number) => SMALL[number] ?? String(number);

/** @param {number} number @param {string} one @param {string} many */
export const counted = (number, one, many) => `${number} ${number === 1 ? one : many}`;

/** @param {number} number */
const two = (number) => String(number).padStart(2, "0");

/** @param {Date} date */
export const clock = (date) => `${two(date.getHours())}:${two(date.getMinutes())}`;

/** @param {Date} date */
export const clockExact = (date) => `${clock(date)}:${two(date.getSeconds())}`;

/** @param {Date} date */
export const dayOf = (date) => date.toLocaleDateString("en-GB", { weekday: "long", day: "numeric", month: "long" });

/** "31 March 2027", of a day written YYYY-MM-DD. @param {string} day */
export const writtenDay = (day) =>
  new Date(`${day}T12:00`).toLocaleDateString("en-GB", { day: "numeric", month: "long", year: "numeric" });

/** What is said before the first reading of an instrument whose calibration has run out. @param {Lapse} lapse */
export const lapsedWords = ({ name, until }) => `The calibration of the ${name} ran out on ${writtenDay(until)}.`;

/** @param {Date} one @param {Date} other */
const sameDay = (one, other) => one.toDateString() === other.toDateString();

/** @param {Date} date @param {Date} today */
export function dayAndClock(date, today) {
  const yesterday = new Date(today.getFullYear(), today.getMonth(), today.getDate() - 1);
  if (sameDay(date, today)) return `today ${clock(date)}`;
  if (sameDay(date, yesterday)) return `yesterday ${clock(date)}`;
  return `${dayOf(date)} ${clock(date)}`;
}

/**
 * What is said when the phone's clock was set while times ran; `ms` is by how much, forward above zero.
 *
 * @param {number} ms
 */
export function jumpWords(ms) {
  const minutes = counted(Math.max(1, Math.round(Math.abs(ms) / 60_000)), "minute", "minutes");
  const jump = `The phone's clock was set ${ms > 0 ? "forward" : "back"} by ${minutes}.`;
  return `${jump} What runs was carried along; look at the written times.`;
}

/** @param {Date} date */
export const saved = (date) => `Saved ${clockExact(date)} on this phone`;

/** "41 visits captured, 39 filed, 1 waiting, 1 refused." @param {Tally & {captured: number}} tally */
export function tallyWords(tally) {
  const visits = counted(tally.captured, "visit captured", "visits captured");
  return `${visits}, ${tally.filed} filed, ${tally.waiting} waiting, ${tally.refused} refused.`;
}

/** @param {number | undefined} at @param {Date} now */
export const lastSentWords = (at, now) =>
  at === undefined ? "Nothing has been sent from this phone yet." : `Last sent ${dayAndClock(new Date(at), now)}.`;

/** @type {Record<string, string>} */
export const VIN_WORDS = {
  empty: "",
  length: "A VIN has 17 characters.",
  letters: "A VIN has no I, O or Q and no signs.",
  right: "The check digit fits.",
  differs: "The check digit differs. Look again.",
  elsewhere:
    "From outside North America, where no check digit is asked for, so a slip cannot be seen. Compare it once more.",
};
