// What a person has to settle in a visit: an entry the desk refused, two entries that disagree.
// DOM only; what is written when a button is pressed is conflicts.js.

import { faultsOf, partsOf } from "../visit/conflicts.js";
import { chartWords } from "./chart.js";
import { askedTwice, button, el } from "./elements.js";
import { helpKey } from "./help.js";
import { clock, codeWords, counted } from "./words.js";

/** @param {string} pointer @param {Rulebook} rulebook */
function nameOf(pointer, rulebook) {
  const path = partsOf(pointer).filter((part) => part !== "typed");
  return codeWords(rulebook, path.join(".").split(".").at(-1) ?? "", "field");
}

/** @param {KeptLine} record @param {Actions} actions */
function refusal(record, { rulebook, mend }) {
  const lines = faultsOf(record).map((fault) => {
    const where = fault.inBody === "" ? "the whole entry" : nameOf(fault.inBody, rulebook);
    const value = fault.value === undefined || fault.value === null ? "" : `: ${JSON.stringify(fault.value)}`;
    return el("li", null, `${where}${value}. ${fault.detail ?? ""}`);
  });
  return el(
    "section", { class: "notice" },
    el("p", { class: "sentence" }, `The desk refused an entry of ${clock(new Date(record.at))}. It is kept here.`),
    el("ul", { class: "meaning" }, lines),
    button("Leave that part out, send the rest, write it anew", () => mend(record), { class: "quiet" }),
  );
}

/** @param {any} value */
function valueWords(value) {
  if (value === null) return "cleared";
  if (typeof value !== "object") return String(value);
  if (value.rows !== undefined) return chartWords(value);
  return `${value.text ?? JSON.stringify(value)} ${value.unit ?? ""}`.trim();
}

/** @param {Conflict} conflict @param {Actions} actions */
function disagreement(conflict, { rulebook, settle, device }) {
  const name = nameOf(conflict.pointer, rulebook);
  const choices = conflict.values.map((value) => {
    const whose = value.device === device ? "this phone" : `device ${value.device.slice(0, 4)}`;
    const words = `${valueWords(value.value)} \u00b7 ${whose}, ${clock(new Date(value.at))}`;
    return button(words, () => settle(value.op), { class: "quiet" });
  });
  return el(
    "section", { class: "notice" },
    el("p", { class: "sentence" }, `Two entries disagree on ${name}. Both are kept. Which one holds?`),
    el("div", { class: "sides-by-side" }, choices, helpKey("key", "disagreement")),
  );
}

/** @param {Conflict} conflict */
const opsOf = (conflict) => conflict.values.map((value) => value.op).join();

/**
 * What is typed travels with its value, an id with what it names: one question for both, settled in one.
 *
 * @param {Conflict} conflict
 * @param {number} _
 * @param {Conflict[]} all
 */
function isQuestion(conflict, _, all) {
  if (conflict.pointer.startsWith("/typed/")) return false;
  if (!conflict.pointer.endsWith("/id")) return true;
  return all.every((other) => other === conflict || opsOf(other) !== opsOf(conflict));
}

/**
 * The desk erased whom this visit is about: why nothing is taken in, and the way to remove it here, asked twice.
 *
 * @param {number} count
 * @param {Actions} actions
 */
function erasure(count, { removeErased }) {
  const why = "This visit belongs to a customer whose data were erased at the desk, so the desk no longer takes it in.";
  const rest = `${counted(count, "entry stays", "entries stay")} on this phone until you remove the visit here.`;
  const words = "Its readings, notes and photos then go from this phone and cannot be brought back.";
  const keys = { ask: "Remove this visit from this phone", words, yes: "Remove for good", no: "Leave it here" };
  const sentence = el("p", { class: "sentence" }, `${why} ${rest}`);
  return el("section", { class: "notice" }, sentence, askedTwice(keys, removeErased));
}

/** @param {Page} page @param {Actions} actions */
export function notices(page, actions) {
  const parts = [
    ...(page.erased ? [erasure(page.erased, actions)] : []),
    ...(page.refused ?? []).map((record) => refusal(record, actions)),
    ...page.conflicts.filter(isQuestion).map((conflict) => disagreement(conflict, actions)),
  ];
  return parts.length === 0 ? null : el("div", { class: "notices" }, parts);
}
