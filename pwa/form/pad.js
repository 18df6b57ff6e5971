// The number pad: four ruled columns of keys, a strip over them that names what is typed, and in its place a question.
// DOM only: a key's name is handed to `press`; what it means for a field is decided elsewhere.

import { decimalMark } from "../language/formats.js";
import { say } from "../language/words.js";
import { button, el, replace } from "./elements.js";

/**
 * What the pad shows at the moment.
 *
 * @typedef {object} PadSight
 * @property {string} name the field's
 * @property {string} unit and where it stands, in words
 * @property {string} [side] of the circuit
 * @property {boolean} minus whether it may be below zero
 * @property {"swing" | "same" | null} extra what the last key writes
 * @property {[main: string, small: string]} next what the large key says
 * @property {{words: string} | null} [question] in the place of the strip
 * @property {boolean} [folds] whether the pad can be folded away
 */

/** @param {string} name @param {Child | Child[]} children @param {(key: string) => void} press @param {string} label */
function key(name, children, press, label = "") {
  const node = button("", () => press(name), { class: "key", "data-key": name, "aria-label": label || undefined });
  node.append(...[children].flat().filter((one) => one !== null && one !== false && one !== undefined));
  return node;
}

/** The last key of the pad, whose words depend on the field. @param {PadSight["extra"]} extra */
function extraWords(extra) {
  const [word, small] = extra === "swing" ? ["to", "swings"] : ["same", "as_before"];
  return [say(`quick.pad.${word}`), el("small", null, say(`quick.pad.${small}`))];
}

const DIGITS = ["1", "2", "3", "4", "5", "6", "7", "8", "9", "0"];

/**
 * The pad: `press` is called with a digit, or with point, erase, minus, swing, same, next, fold, yes or no.
 *
 * @param {(key: string) => void} press
 */
export function numberPad(press) {
  const strip = el("div", { class: "strip-line" });
  const [one, two, three, four, five, six, seven, eight, nine, zero] =
    DIGITS.map((digit) => key(digit, digit, press));
  const minus = key("minus", "\u2212", press, say("quick.pad.minus"));
  const point = key("point", decimalMark(), press, say("quick.pad.point"));
  const next = key("next", null, press);
  const extra = el("div", { class: "key idle" });
  next.classList.add("main-key");
  const grid = el(
    "div", { class: "pad-keys" },
    one, two, three, key("erase", say("quick.pad.erase"), press),
    four, five, six, minus, seven, eight, nine, next, point, zero, extra,
  );
  const root = el("div", { class: "pad", role: "group", "aria-label": say("quick.pad.name") }, strip, grid);
  /** @type {string | null} */
  let shown = null;
  /** @type {string | null} */
  let last = null;
  /** What the large key says. @type {string | null} */
  let said = null;

  /** @param {PadSight} sight */
  function strips({ name, unit, side, question, folds }) {
    if (question) {
      replace(
        strip, el("p", { role: "alert" }, question.words),
        button(say("quick.question.yes"), () => press("yes")), button(say("quick.question.no"), () => press("no")),
      );
    } else {
      const words = el("p", null, el("b", { class: side }, name), " ", unit);
      replace(strip, words, folds !== false && button(say("quick.pad.fold"), () => press("fold"), { class: "quiet" }));
    }
    strip.classList.toggle("asking", question !== null && question !== undefined);
  }

  /** Renews what differs, and never a key that stays: a finger may be on it. @param {PadSight} sight */
  function show(sight) {
    const { next: [word, small], extra: more } = sight;
    const now = JSON.stringify([sight.name, sight.unit, sight.side, sight.question?.words]);
    if (now !== shown) strips(sight);
    shown = now;
    minus.classList.toggle("idle", !sight.minus);
    minus.disabled = !sight.minus;
    if (said !== `${word}\n${small}`) replace(next, word, small !== "" && el("small", null, small));
    said = `${word}\n${small}`;
    if (more !== last || last === null) {
      const slot = grid.lastElementChild;
      slot?.replaceWith(more === null ? el("div", { class: "key idle" }) : key(more, extraWords(more), press));
    }
    last = more;
  }
  return { root, show };
}
