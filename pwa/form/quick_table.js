// The table of the quick test: Before and After side by side, with what a reading means in small figures under it.
// DOM only: texts come from the draft, figures from the judgement; a cell is a key as a whole.

import { readNumber } from "../visit/number_input.js";
import { COLUMNS, isSame } from "../visit/quick_step.js";
import { testOf } from "../visit/visit_model.js";
import { clockDigits } from "../language/formats.js";
import { say, unitWord } from "../language/words.js";
import { button, el, replace, setText } from "./elements.js";
import { endsOf, sourceIn } from "./quick_typing.js";

/** @typedef {import("../visit/quick_step.js").QuickCell} QuickCell */
/** @typedef {import("../visit/quick_step.js").QuickRow} QuickRow */

/** The unit of a field as text. @param {Field} field @param {string | undefined} unit */
export const unitText = (field, unit) =>
  field.quantity === undefined ? (field.suffix ?? "") : unitWord(field.quantity, unit);

/** @param {string} text */
const shown = (text) => text.replace("-", "\u2212");

/**
 * What a cell says: its text, and the unit where that is not its row's.
 *
 * @param {QuickCell} cell
 * @param {boolean} swing
 * @param {Tools} tools
 */
export function cellText(cell, swing, tools) {
  const { least, most } = endsOf(cell, tools);
  const { text, unit } = least.get();
  const upper = most?.get().text ?? "";
  const whole = upper !== "" || swing ? say("quick.cell.swing", { low: shown(text), high: shown(upper) }) : shown(text);
  const isOther = least.field.quantity !== undefined && text !== "" && unit !== tools.unitFor(least.field);
  const isFault = text !== "" && text !== "-" && readNumber(text).fault !== undefined;
  return { text: whole, other: isOther ? unitText(least.field, unit) : "", isFault };
}

/** Whether nothing is typed or kept in a cell. @param {QuickCell} cell @param {Tools} tools */
export const isEmpty = ({ row, column }, tools) => sourceIn(row.path, column, tools).get().text === "";

/**
 * A cell as a key, renewed in place.
 *
 * @param {QuickCell} cell
 * @param {Tools} tools
 * @param {(cell: QuickCell) => void} tap
 */
function cellKey(cell, tools, tap) {
  const { row, column } = cell;
  const text = el("span");
  const other = el("small");
  const key = button("", () => tap(cell), { class: "cell" });
  key.append(text, other);
  const root = el("td", { class: row.side }, key);
  /** @param {QuickCell | null} at @param {boolean} swing */
  function refresh(at, swing) {
    const isAt = isSame(cell, at);
    const now = cellText(cell, isAt && swing, tools);
    setText(text, now.text === "" ? "\u2013" : now.text);
    setText(other, now.other);
    root.classList.toggle("at", isAt);
    root.classList.toggle("empty", now.text === "");
    root.classList.toggle("long", now.text.length + now.other.length > 6);
    const { field } = sourceIn(row.path, column, tools);
    const unit = now.other || unitText(field, tools.unitFor(field));
    const words = { row: say(`quick.row.${row.code}`), unit, text: now.text || say("quick.cell.empty") };
    const label = say(`quick.cell.${column}`, words);
    if (key.getAttribute("aria-label") !== label) key.setAttribute("aria-label", label);
    key.setAttribute("aria-pressed", String(isAt));
  }
  return { root, refresh };
}

/** The judgement of a column's test. @param {string} column @param {Sight} sight @param {Page} page */
export function judgedIn(column, sight, page) {
  const id = testOf(page, column)?.id;
  return sight.assessment.tests.find((one) => one.id === id);
}

/** @param {string} name @param {string} column @param {Sight} sight @param {Page} page */
function derivedText(name, column, sight, page) {
  const figure = judgedIn(column, sight, page)?.derived[name];
  const quantity = name.endsWith("_k") ? "temperature_difference" : "temperature";
  return figure === undefined ? "" : sight.speak.bare(quantity, figure.value);
}

/** @param {string} name @param {Tools} tools */
function derivedRow(name, { page }) {
  const cells = COLUMNS.map((column) => ({ column, root: el("td") }));
  const head = el("th", { scope: "row" }, say(`quick.derived.${name}`));
  const root = el("tr", { class: `derived ${name}` }, head, cells.map((cell) => cell.root));
  /** @param {Sight} sight */
  const refresh = (sight) => cells.forEach((cell) => setText(cell.root, derivedText(name, cell.column, sight, page)));
  return { root, refresh };
}

/** @param {Tools} tools */
function tableHead({ page }) {
  const heads = COLUMNS.map((column) => ({ column, time: el("span", { class: "time" }) }));
  const cells = heads.map(({ column, time }) => el(
    "th", { scope: "col" }, el("i", { class: column, "aria-hidden": "true" }), say(`quick.column.${column}`), " ", time,
  ));
  const corner = el("th", { scope: "col" }, el("span", { class: "unseen" }, say("quick.column.measured")));
  const refresh = () => heads.forEach(({ column, time }) => {
    const at = testOf(page, column)?.at;
    setText(time, at === undefined ? "" : clockDigits(new Date(at)));
  });
  return { root: el("thead", null, el("tr", null, corner, cells)), refresh };
}

/**
 * The table of some rows; `refresh` renews texts, never a key.
 *
 * @param {QuickRow[]} rows
 * @param {Tools} tools
 * @param {(cell: QuickCell) => void} tap
 */
export function quickTable(rows, tools, tap) {
  const head = tableHead(tools);
  /** @type {ReturnType<typeof cellKey>[]} */
  const cells = [];
  /** @type {ReturnType<typeof derivedRow>[]} */
  const under = [];
  const body = rows.flatMap((row) => {
    const { field } = sourceIn(row.path, "before", tools);
    const own = COLUMNS.map((column) => cellKey({ row, column }, tools, tap));
    const derived = (row.derived ?? []).map((name) => derivedRow(name, tools));
    cells.push(...own);
    under.push(...derived);
    const unit = el("small", null, unitText(field, tools.unitFor(field)));
    const name = el("th", { scope: "row", class: row.side }, say(`quick.row.${row.code}`), " ", unit);
    return [el("tr", { class: derived.length > 0 ? "over" : null }, name, own.map((cell) => cell.root)),
      ...derived.map((one) => one.root)];
  });
  const root = el("table", { class: "readings" });
  replace(root, head.root, el("tbody", null, body));
  /** @param {Sight} sight @param {QuickCell | null} at @param {boolean} swing */
  const refresh = (sight, at, swing) => {
    head.refresh();
    cells.forEach((cell) => cell.refresh(at, swing));
    under.forEach((row) => row.refresh(sight));
  };
  return { root: el("div", { class: "table-room" }, root), refresh };
}
