// The pad of a quick test in use: a key goes into the cell at hand, on to the next one, or answers the question.
// DOM only: what a key makes of a text is quick_step.js, whether a unit is asked about is the kernel's.

import { say } from "../language/words.js";
import { cellsOf, nextCell } from "../visit/quick_step.js";
import { isEmpty, judgedIn, unitText } from "./quick_table.js";
import { endsOf, sourceIn, typeKey, typeSame } from "./quick_typing.js";
import { answeredNo, answeredYes, questionOf } from "./unit_question.js";

/** @typedef {import("../visit/quick_step.js").QuickCell} QuickCell */
/** @typedef {import("../visit/quick_step.js").QuickRow} QuickRow */
/** @typedef {import("./quick.js").QuickState} QuickState */
/** @typedef {import("./unit_question.js").Asked} Asked */

/**
 * What the pad works with; `rows` are those of the table that is shown.
 *
 * @typedef {object} PadTools
 * @property {Tools} tools
 * @property {QuickState} state
 * @property {Actions} actions
 * @property {QuickRow[]} rows
 * @property {() => Sight} sight
 * @property {() => void} refresh
 * @property {() => void} draw
 */

const PAUSE_MS = 900;

/** The cell behind the one at hand that is still empty. @param {PadTools} parts */
const following = ({ tools, state, rows }) => nextCell(cellsOf(rows), state.at, (cell) => isEmpty(cell, tools));

/** The end of a cell that is being typed. @param {QuickCell} at @param {boolean} swing @param {Tools} tools */
function endAt(at, swing, tools) {
  const { least, most } = endsOf(at, tools);
  return swing && most !== null ? most : least;
}

/**
 * The question about the cell at hand, once the hand rests.
 *
 * @param {PadTools} parts
 * @returns {Asked | null}
 */
function questionNow({ tools, state: { at, swing, paused }, sight }) {
  if (at === null || !paused) return null;
  const { visit, speak, ...now } = sight();
  const judged = judgedIn(at.column, { visit, speak, ...now }, tools.page);
  const { field, get } = endAt(at, swing, tools);
  return questionOf(field, get(), { visit, judged, speak, rulebook: tools.rulebook });
}

/** What the large key says. @param {PadTools} parts @param {QuickCell} at @returns {[string, string]} */
function nextWords(parts, at) {
  const next = following(parts);
  if (next === null) return [say("quick.pad.done"), ""];
  const row = say(`quick.row.${next.row.code}`);
  return [say("quick.pad.next"), next.column === at.column ? row.toLowerCase() : say("quick.pad.after", { row })];
}

/**
 * What the pad shows for the cell at hand.
 *
 * @param {PadTools} parts
 * @param {QuickCell} at
 * @returns {import("./pad.js").PadSight}
 */
export function padSight(parts, at) {
  const { tools, state } = parts;
  const { row, column } = at;
  const end = endAt(at, state.swing, tools);
  const { least } = endsOf(at, tools);
  const unit = unitText(end.field, (end.get().text === "" ? least : end).get().unit);
  const swings = row.most !== undefined && !state.swing;
  const same = row.same === true && column === "after" && sourceIn(row.path, "before", tools).get().text !== "";
  return {
    name: say(`quick.row.${row.code}`), unit: say(`quick.strip.${column}`, { unit }), side: row.side,
    minus: end.field.quantity !== undefined, extra: swings ? "swing" : same ? "same" : null,
    next: nextWords(parts, at), question: questionNow(parts),
  };
}

/**
 * Answers the question: both ends of a swing are read on one dial.
 *
 * @param {QuickCell} at
 * @param {Asked} asked
 * @param {boolean} yes
 * @param {Tools} tools
 */
function answer(at, asked, yes, tools) {
  const { least, most } = endsOf(at, tools);
  for (const end of [least, most]) {
    if (end === null || end.get().text === "") continue;
    end.set(yes ? answeredYes(end.get(), asked) : answeredNo(end.get()));
  }
}

/**
 * {press, goTo}: a key of the pad, and the way to a cell; null folds the pad away.
 *
 * @param {PadTools} parts
 */
export function padWork(parts) {
  const { tools, state, actions, refresh, draw } = parts;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let pause;

  /** @param {QuickCell | null} cell */
  function goTo(cell) {
    const crosses = state.at !== null && cell?.column !== state.at.column;
    const most = cell === null ? null : endsOf(cell, tools).most;
    clearTimeout(pause);
    Object.assign(state, { at: cell, swing: most !== null && most.get().text !== "", paused: true });
    if (cell !== null) refresh();
    if (crosses) void actions.keep().then(cell === null ? draw : refresh);
  }

  function goOn() {
    state.paused = true;
    if (questionNow(parts) === null) goTo(following(parts));
    else refresh();
  }

  /** @param {QuickCell} at @param {string} key */
  function type(at, key) {
    clearTimeout(pause);
    state.paused = false;
    state.swing = typeKey(at, key, state.swing, tools);
    refresh();
    pause = setTimeout(() => {
      state.paused = true;
      refresh();
    }, PAUSE_MS);
  }

  /** @param {string} key */
  function press(key) {
    const { at } = state;
    if (at === null) return;
    const asked = questionNow(parts);
    if (key === "next") goOn();
    else if (key === "fold") goTo(null);
    else if (key === "same") {
      typeSame(at, tools);
      goOn();
    } else if (key !== "yes" && key !== "no") type(at, key);
    else if (asked !== null) answer(at, asked, key === "yes", tools);
  }
  return { press, goTo };
}
