// The cautions that fit a visit: read and confirmed before the first reading.
// DOM only; which cautions fit is the kernel's affair, their sentences are rulebook data.

import { lapsed, renewed } from "../visit/calibration.js";
import { cautions_for } from "../kernel.js";
import { button, el } from "./elements.js";
import { clock, counted, lapsedWords } from "./words.js";

// Those that fit and that nobody has confirmed yet.
export function openCautions(visit, rulebook) {
  const confirmed = new Set((visit.cautions ?? []).map((caution) => caution.code));
  return cautions_for(visit, rulebook).filter((caution) => !confirmed.has(caution.code));
}

export function cautionsForm(visit, rulebook) {
  const times = new Map((visit.cautions ?? []).map((caution) => [caution.code, caution.at]));
  const rows = cautions_for(visit, rulebook).map((caution) => {
    const at = times.get(caution.code);
    const state = at === undefined ? "to confirm" : `confirmed ${clock(new Date(at))}`;
    return el("li", null, el("p", { class: "sentence" }, caution.text), el("p", { class: "meaning" }, state));
  });
  const defer = "Local law and the makers' instructions go before anything said here. Opening the circuit is for certified people.";
  return el("div", null, el("ul", { class: "cautions" }, rows), el("p", { class: "meaning" }, defer));
}

// Stands in the place of the readings until the cautions are confirmed.
export function readingsClosed(count, go) {
  const words = `${counted(count, "caution fits", "cautions fit")} this vehicle and this work. Read and confirm ${count === 1 ? "it" : "them"} first; the readings open then.`;
  return el("div", { class: "closed" }, el("p", { class: "sentence" }, words), button("Read the cautions", go, { class: "quiet" }));
}

// Instruments whose calibration had run out when the visit began, and the way to take over what the settings now say
// of them; null where none had.
export function lapsedNote(visit, own, take) {
  const over = lapsed(visit.instruments ?? {}, visit.started_at.slice(0, 10));
  if (over.length === 0) return null;
  const said = over.map((one) => el("p", { class: "sentence" }, lapsedWords(one)));
  const days = renewed(over, own);
  const words = days === null ? "Set a new day in Settings, then take it over here." : "Settings names another day.";
  const key = days !== null && button("Take it over", () => take(days), { class: "quiet" });
  return el("section", { class: "notice" }, said, el("p", { class: "meaning" }, `Readings are kept all the same. ${words}`), key);
}
