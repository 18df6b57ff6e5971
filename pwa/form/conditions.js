// The conditions of a test in one line: what is recorded of them, what they usually are, and the key that records that.
// DOM only: nothing is recorded before the key is pressed; which conditions there are is the rulebook's.

import { valueAt } from "../visit/visit_model.js";
import { valueOf } from "../visit/number_input.js";
import { number } from "../language/formats.js";
import { say, term } from "../language/words.js";
import { button, el, freshId, setText } from "./elements.js";
import { TURN_MS } from "./finger.js";
import { withHelp } from "./help.js";
import { sentences } from "./words.js";

/** @typedef {{those: Condition[], at: number, read: string}} Taken what the key filled, when, and what was read then */

/** @typedef {{field: Field, source: StepSource, part: Part, asked: () => boolean}} Condition */
/** @typedef {{test: Test, as: "usual" | "before"}} Offered the conditions of an earlier test, and as what */

/**
 * A condition in words, with what it applies to.
 *
 * @param {Field} field
 * @param {string} text
 * @param {Rulebook} rulebook
 */
function conditionWords(field, text, rulebook) {
  const [, name] = field.path;
  if (field.kind === "flag") return say(`phone.condition.${name}.${text}`);
  if (field.kind === "choice") return say(`phone.condition.${name}`, { value: term(field.vocabulary ?? "", text) });
  const { value } = valueOf(field, { text }, rulebook);
  return say(`phone.condition.${name}`, { value: typeof value === "number" ? number(value, 0) : text });
}

/** @param {any} value @param {Field} field */
const textOf = (value, { kind }) => (kind === "flag" ? (value ? "yes" : "no") : String(value));

/**
 * What an earlier test offers for the conditions that are asked and still empty.
 *
 * @param {Condition[]} conditions
 * @param {Offered | null} offered
 * @returns {[Condition, string][]}
 */
function offeredOf(conditions, offered) {
  if (offered === null) return [];
  const open = conditions.filter(({ field, source, asked }) =>
    (offered.as === "before" || field.carried === true) && asked() && source.get().text === "");
  return open.flatMap((one) => {
    const value = valueAt(offered.test, one.field.path) ?? null;
    return value === null ? [] : [[one, textOf(value, one.field)]];
  });
}

/**
 * The line, its two keys, and the fields, which show once they are asked for or where one of them holds a slip.
 *
 * @param {Condition[]} conditions
 * @param {Offered | null} offered
 * @param {Pick<Tools, "typed" | "rulebook">} tools
 * @returns {Part}
 */
export function conditionsBlock(conditions, offered, { typed, rulebook }) {
  const line = el("p", { class: "recorded" });
  const as = offered?.as ?? "usual";
  const key = button(say(`phone.conditions.key_${as}`), take, { class: "outlined" });
  /** @type {Taken | null} */
  let taken = null;
  let read = "";
  const undo = button(say("phone.settling.undo"), back, { class: "outlined" });
  const help = withHelp(key, as === "before" ? "same_as_before" : "as_usual");
  const slips = conditions.some(({ field, source }) => valueOf(field, source.get(), rulebook).fault !== undefined);
  const fields = el("div", { id: freshId("conditions"), hidden: !slips }, conditions.map(({ part }) => part.root));
  const turn = button("", turned, { class: "quiet", "aria-controls": fields.id });
  function take() {
    const all = offeredOf(conditions, offered);
    for (const [{ source }, text] of all) source.put({ text });
    taken = { those: all.map(([one]) => one), at: Date.now(), read };
    typed();
    undo.focus({ preventScroll: true });
  }
  function back() {
    if (taken === null || Date.now() - taken.at < TURN_MS) return;
    for (const { source } of taken.those) source.put({ text: "" });
    taken = null;
    typed();
  }
  function turned() {
    fields.hidden = !fields.hidden;
    show();
  }
  function show() {
    turn.setAttribute("aria-expanded", String(!fields.hidden));
    setText(turn, say(fields.hidden ? "phone.page.change" : "phone.page.close"));
  }
  /** @param {[Condition, string][]} some */
  const words = (some) => some.map(([{ field }, text]) => conditionWords(field, text, rulebook)).join(", ");
  show();
  /** @param {Sight} sight */
  function refresh(sight) {
    const recorded = conditions.filter(({ source, asked }) => asked() && source.get().text !== "");
    const known = words(recorded.map((one) => [one, one.source.get().text]));
    const rest = offeredOf(conditions, offered);
    read = JSON.stringify(sight.test?.readings);
    if (taken?.read !== read) taken = null;
    undo.hidden = taken === null;
    if (help !== null) help.hidden = taken !== null || rest.length === 0;
    setText(line, sentences([
      known === "" ? say("phone.conditions.none") : say("phone.conditions.recorded", { conditions: known }),
      rest.length > 0 && say(`phone.conditions.${as}`, { conditions: words(rest) }),
    ]));
    conditions.forEach(({ part }) => part.refresh(sight));
  }
  const title = el("h2", { class: "unseen" }, say("phone.form.conditions"));
  const offer = el("div", { class: "offer" }, help, undo, turn);
  const root = el("section", { class: "conditions" }, title, line, offer, fields);
  return { root, refresh };
}
