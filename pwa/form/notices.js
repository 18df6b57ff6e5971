// What a person has to settle in a visit: an entry the desk refused, two entries that disagree.
// DOM only; what is written when a button is pressed is conflicts.js.

import { faultsOf, partsOf } from "../visit/conflicts.js";
import { chartWords } from "./chart.js";
import { askedTwice, button, el } from "./elements.js";
import { helpKey } from "./help.js";
import { clock } from "../language/formats.js";
import { fieldName, say } from "../language/words.js";
import { sentenceCase } from "./words.js";

/** @param {string} pointer */
function nameOf(pointer) {
  const path = partsOf(pointer).filter((part) => part !== "typed");
  return fieldName(path.join(".").split("."));
}

/** @param {KeptLine} record @param {Actions} actions */
function refusal(record, { mend }) {
  const lines = faultsOf(record).map((fault) => {
    const field = sentenceCase(fault.inBody === "" ? say("phone.notice.whole") : nameOf(fault.inBody));
    const values = { field, detail: fault.detail ?? "", value: JSON.stringify(fault.value ?? null) };
    return el("li", null, say(`phone.notice.${values.value === "null" ? "fault" : "fault_value"}`, values));
  });
  return el(
    "section", { class: "notice" },
    el("p", { class: "sentence" }, say("phone.notice.refused", { clock: clock(new Date(record.at)) })),
    el("ul", { class: "meaning" }, lines),
    button(say("phone.notice.mend"), () => mend(record), { class: "quiet" }),
  );
}

/** @param {any} value */
function valueWords(value) {
  if (value === null) return say("phone.notice.cleared");
  if (typeof value !== "object") return String(value);
  if (value.rows !== undefined) return chartWords(value);
  return `${value.text ?? JSON.stringify(value)} ${value.unit ?? ""}`.trim();
}

/** @param {Conflict} conflict @param {Actions} actions */
function disagreement(conflict, { settle, device }) {
  const field = nameOf(conflict.pointer);
  const choices = conflict.values.map((value) => {
    const whose = value.device === device ? "mine" : "theirs";
    const values = { device: value.device.slice(0, 4), clock: clock(new Date(value.at)) };
    const words = say(`phone.notice.${whose}`, { value: valueWords(value.value), ...values });
    return button(words, () => settle(value.op), { class: "quiet" });
  });
  return el(
    "section", { class: "notice" },
    el("p", { class: "sentence" }, say("phone.notice.conflict", { field })),
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
  const keys = {
    ask: say("phone.notice.remove"), words: say("phone.notice.remove_words"),
    yes: say("phone.notice.remove_yes"), no: say("phone.notice.remove_no"),
  };
  const sentence = el("p", { class: "sentence" }, say("phone.notice.erased", { count }));
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
