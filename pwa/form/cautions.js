// The cautions of a running test: read and confirmed before the first reading. Those of a deed stand at its tick.
// DOM only; which cautions fit is decided by the kernel, their sentences are rulebook data.

import { lapsed, renewed } from "../visit/calibration.js";
import { standing_cautions } from "../kernel.js";
import { button, el } from "./elements.js";
import { clock } from "../language/formats.js";
import { say, term } from "../language/words.js";
import { lapsedWords } from "./words.js";

/** Those that fit, read or not. @param {Visit} visit @param {Rulebook} rulebook @returns {string[]} */
export const fittingCautions = (visit, rulebook) => standing_cautions(visit, rulebook);

/**
 * Those that fit and that nobody has confirmed yet.
 *
 * @param {Visit} visit
 * @param {Rulebook} rulebook
 * @returns {string[]}
 */
export function openCautions(visit, rulebook) {
  const confirmed = new Set((visit.cautions ?? []).map((caution) => caution.code));
  return fittingCautions(visit, rulebook).filter((code) => !confirmed.has(code));
}

/** @param {Visit} visit @param {Rulebook} rulebook */
export function cautionsForm(visit, rulebook) {
  const times = new Map((visit.cautions ?? []).map((caution) => [caution.code, caution.at]));
  const rows = fittingCautions(visit, rulebook).map((code) => {
    const at = times.get(code);
    const state = at === undefined
      ? say("phone.cautions.to_confirm")
      : say("phone.cautions.confirmed", { clock: clock(new Date(at)) });
    const words = el("p", { class: "sentence" }, term("caution", code));
    return el("li", null, words, el("p", { class: "meaning" }, state));
  });
  const deference = el("p", { class: "meaning" }, say("phone.cautions.deference"));
  return el("div", null, el("ul", { class: "cautions" }, rows), deference);
}

/**
 * Stands in the place of the readings until the cautions are confirmed.
 *
 * @param {number} count
 * @param {() => unknown} go
 */
export function readingsClosed(count, go) {
  const key = button(say("phone.cautions.read"), go, { class: "quiet" });
  return el("div", { class: "closed" }, el("p", { class: "sentence" }, say("phone.cautions.closed", { count })), key);
}

/**
 * Instruments whose calibration had run out when the visit began, and the way to take over what the settings now say
 * of them; null where none had.
 *
 * @param {Visit} visit
 * @param {Tree} own
 * @param {(instruments: Tree) => unknown} take
 */
export function lapsedNote(visit, own, take) {
  const over = lapsed(visit.instruments ?? {}, visit.started_at.slice(0, 10));
  if (over.length === 0) return null;
  const sentences = over.map((one) => el("p", { class: "sentence" }, lapsedWords(one)));
  const days = renewed(over, own);
  const words = el("p", { class: "meaning" }, say(`phone.calibration.${days === null ? "renew" : "renewed"}`));
  const key = days !== null && button(say("phone.calibration.take"), () => take(days), { class: "quiet" });
  return el("section", { class: "notice" }, sentences, words, key);
}
