// What a person has to settle in a visit: an entry the desk refused, two entries that disagree.
// DOM only; what is written when a button is pressed is conflicts.js.

import { faultsOf, partsOf } from "../visit/conflicts.js";
import { inUnit } from "../visit/number_input.js";
import { fieldNamed, stepsOf } from "../visit/steps.js";
import { chartWords } from "./chart.js";
import { askedTwice, button, el } from "./elements.js";
import { helpKey } from "./help.js";
import { clock, listed } from "../language/formats.js";
import { fieldName, say, term, unitWord } from "../language/words.js";
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

/** The field of the form that a pointer into a visit means. @param {string} pointer @param {Rulebook} rulebook */
function fieldAt(pointer, rulebook) {
  const [list, id, ...rest] = partsOf(pointer);
  const name = (list === "tests" ? rest : [list, id, ...rest]).filter((part) => part !== undefined).join(".");
  return fieldNamed(stepsOf(rulebook).flatMap(({ fields }) => fields), name);
}

/**
 * A value of a field as a person reads it.
 *
 * @param {any} value
 * @param {Field | undefined} field
 * @param {Pick<Tools, "rulebook" | "unitFor">} tools
 */
function valueWords(value, field, { rulebook, unitFor }) {
  if (value === null) return say("phone.notice.cleared");
  if (field?.kind === "flag") return say(`phone.form.${value ? "yes" : "no"}`);
  if (field?.kind === "choice") return term(field.vocabulary ?? "", String(value));
  if (field?.kind === "codes") return listed(value.map((/** @type {string} */ code) => term("observed", code)));
  if (field?.quantity !== undefined) {
    const unit = unitFor(field);
    return `${inUnit(field.quantity, unit, value, rulebook)}\u00a0${unitWord(field.quantity, unit)}`;
  }
  if (typeof value !== "object") return [String(value), field?.suffix].filter((part) => part).join("\u00a0");
  if (value.rows !== undefined) return chartWords(value);
  return `${value.text ?? JSON.stringify(value)} ${value.unit ?? ""}`.trim();
}

/** @param {Conflict} conflict @param {Actions} actions @param {Pick<Tools, "rulebook" | "unitFor">} tools */
function disagreement(conflict, { settle, device }, tools) {
  const field = nameOf(conflict.pointer);
  const asked = fieldAt(conflict.pointer, tools.rulebook);
  const choices = conflict.values.map((value) => {
    const whose = value.device === device ? "mine" : "theirs";
    const values = { device: value.device.slice(0, 4), clock: clock(new Date(value.at)) };
    const words = say(`phone.notice.${whose}`, { value: valueWords(value.value, asked, tools), ...values });
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
 * The desk erased this visit's customer: why nothing is taken in, and the way to remove it here, asked twice.
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

/** @param {Page} page @param {Actions} actions @param {Pick<Tools, "rulebook" | "unitFor">} tools */
export function notices(page, actions, tools) {
  const parts = [
    ...(page.erased ? [erasure(page.erased, actions)] : []),
    ...(page.refused ?? []).map((record) => refusal(record, actions)),
    ...page.conflicts.filter(isQuestion).map((conflict) => disagreement(conflict, actions, tools)),
  ];
  return parts.length === 0 ? null : el("div", { class: "notices" }, parts);
}
