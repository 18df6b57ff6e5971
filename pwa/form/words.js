// Sentences that several screens share: states, faults, counts and times, taken by their codes.
// No element is made here and nothing is decided.

import { clock, clockExact, day, dayAt, weekday } from "../language/formats.js";
import { has, say } from "../language/words.js";

/** What is wrong with a text that was typed. @param {string} code */
export const typedFault = (code) => say(`phone.typed.${code}`);

/** @param {any} error */
export const faultWords = ({ code, message }) =>
  has(`phone.fault.${code}`) ? say(`phone.fault.${code}`) : say("phone.fault.other", { message });

/** @typedef {string | false | null | undefined} Perhaps a sentence or fact; what is none is left out */

/** Sentences one after the other. @param {Perhaps[]} all */
export const sentences = (all) => all.filter((one) => one).join(" ");

/** Facts side by side. @param {Perhaps[]} all */
export const beside = (all) => all.filter((one) => one).join(" \u00b7 ");

/** Photos that wait or were refused, or null. @param {{waiting: number, refused: number}} photos */
export const photosWords = ({ waiting, refused }) => sentences([
  waiting > 0 && say("phone.day.photos", { count: waiting }),
  refused > 0 && say("phone.day.photos_refused", { count: refused }),
]) || null;

/** @param {{sent: number, photos: number}} outcome */
export const sentWords = ({ sent, photos }) => sentences([
  sent > 0 && say("phone.send.entries", { count: sent }), photos > 0 && say("phone.send.photos", { count: photos }),
]) || say("phone.send.nothing");

/** @param {string} words */
export const sentenceCase = (words) => words.charAt(0).toUpperCase() + words.slice(1);

/** What is said before the first reading of an instrument whose calibration has run out. @param {Lapse} lapse */
export const lapsedWords = ({ name, until }) => say(`phone.calibration.lapsed.${name}`, { day: day(dayAt(until)) });

/** @param {Date} one @param {Date} other */
const sameDay = (one, other) => one.toDateString() === other.toDateString();

/** @param {Date} date @param {Date} today */
export function dayAndClock(date, today) {
  const yesterday = new Date(today.getFullYear(), today.getMonth(), today.getDate() - 1);
  const values = { day: weekday(date), clock: clock(date) };
  if (sameDay(date, today)) return say("phone.when.today", values);
  return say(sameDay(date, yesterday) ? "phone.when.yesterday" : "phone.when.other", values);
}

/**
 * What is said when the phone's clock was set while times ran; `ms` is by how much, forward above zero.
 *
 * @param {number} ms
 */
export const jumpWords = (ms) =>
  say(`phone.saved.clock_${ms > 0 ? "forward" : "back"}`, { count: Math.max(1, Math.round(Math.abs(ms) / 60_000)) });

/** @param {Date} date */
export const savedWords = (date) => say("phone.saved.saved", { clock: clockExact(date) });

/** "41 visits captured, 39 filed, 1 waiting, 1 refused." @param {Tally & {captured: number}} tally */
export const tallyWords = ({ captured, filed, waiting, refused }) =>
  say("phone.day.tally", { count: captured, filed, waiting, refused });

/** @param {number | undefined} at @param {Date} now */
export const lastSentWords = (at, now) =>
  at === undefined ? say("phone.send.never") : say("phone.send.last", { when: dayAndClock(new Date(at), now) });
