// The bill of a visit, folded into one line until it is wanted: lines, discount, currency, how it was paid, the total.
// DOM only: the kernel calculates what it comes to; lines are entries of the page like any other.

import { decimal_text, reckon } from "../kernel.js";
import { exact } from "../language/formats.js";
import { say } from "../language/words.js";
import { button, el, setText } from "./elements.js";

/** @typedef {[what: string, sum: string]} BillRow */

/**
 * What a visit is charged: its kernel bill, the sum as it is kept and as people write it; null without a line.
 *
 * @param {Visit} visit
 * @param {Rulebook} rulebook
 */
export function chargedOf(visit, rulebook) {
  if ((visit.charges ?? []).length === 0) return null;
  const digits = digitsOf(visit.currency ?? "", rulebook);
  const bill = reckon(visit.charges ?? [], visit.discount ?? null, digits);
  /** @param {bigint} value */
  const money = (value) => moneyText(value, digits);
  const { currency = "" } = visit;
  return { bill, money, sum: decimal_text(bill.total, digits), shown: money(bill.total), currency };
}

/** A sum of the smallest unit as people write it. @param {bigint} value @param {number} digits */
const moneyText = (value, digits) => exact(decimal_text(value, digits));

/** A sum that is kept as text, in the decimals of its currency. @param {string} sum @param {number} digits */
export const exactSum = (sum, digits) => {
  const charge = /** @type {import("../kernel.js").Charge} */ ({ id: "", unit_price: sum });
  return moneyText(reckon([charge], null, digits).total, digits);
};

/** A rate in millionths of a percent, without trailing zeros. @param {bigint} rate */
export const rateText = (rate) => exact(decimal_text(rate, 6).replace(/\.?0+$/, ""));

/** The decimals of a currency's smallest unit. @param {string} currency @param {Rulebook} rulebook @returns {number} */
export const digitsOf = (currency, rulebook) => rulebook.currencies.minor_digits[currency] ?? 2;

/**
 * The bill in words, the total last; null without a line.
 *
 * @param {Visit} visit
 * @param {Rulebook} rulebook
 * @returns {BillRow[] | null}
 */
export function billOf(visit, rulebook) {
  const charges = visit.charges ?? [];
  if (charges.length === 0) return null;
  const currency = visit.currency ?? "";
  const digits = digitsOf(currency, rulebook);
  const bill = reckon(charges, visit.discount ?? null, digits);
  /** @type {BillRow[]} */
  const rows = [];
  if (bill.taxes.length > 0 || bill.discount !== 0n) rows.push([say("visit.price.net"), moneyText(bill.net, digits)]);
  if (bill.discount !== 0n) rows.push([say("visit.price.discount"), moneyText(-bill.discount, digits)]);
  for (const { rate, base, tax } of bill.taxes) {
    const what = say("visit.price.tax", { rate: rateText(rate), base: moneyText(base, digits) });
    rows.push([what, moneyText(tax, digits)]);
  }
  const named = currency === "" ? say("visit.price.total_plain") : say("visit.price.total", { currency });
  return [...rows, [named, moneyText(bill.total, digits)]];
}

/** @param {BillRow[]} rows */
function billTable(rows) {
  return rows.map(([what, sum], index) => {
    const grand = index === rows.length - 1 ? "grand" : null;
    return el("tr", { class: grand }, el("th", { scope: "row" }, what), el("td", { class: "number" }, sum));
  });
}

/**
 * `lines()` makes the controls of every line as they now are, `add()` begins one; `fields` are those of the whole bill.
 *
 * @param {{lines: (draw: () => void) => Part[], add: () => void, fields: Part[], tools: Tools}} bill
 * @returns {Part}
 */
export function priceBlock({ lines, add, fields, tools }) {
  const line = el("span", { class: "meaning" });
  const turn = el("span", { class: "turn" });
  const table = el("tbody");
  const list = el("div");
  const summary = el("summary", null, el("b", null, say("phone.bill.title")), line, turn);
  const root = el("details", { class: "held price" }, summary);
  /** @type {Part[]} */
  let parts = [];
  function draw() {
    parts = lines(draw);
    list.replaceChildren(...parts.map((one) => one.root));
  }
  const more = button(say("phone.bill.add"), () => {
    add();
    draw();
    tools.typed();
    list.lastElementChild?.querySelector("input")?.focus();
  }, { class: "quiet" });
  root.append(list, more, el("div", null, fields.map((one) => one.root)), el("table", { class: "sides bill" }, table));
  const turned = () => setText(turn, say(root.open ? "phone.page.close" : "phone.page.open"));
  root.addEventListener("toggle", turned);
  turned();
  draw();
  /** @param {Sight} sight */
  const refresh = (sight) => {
    const bill = billOf(sight.visit, tools.rulebook);
    setText(line, bill?.at(-1)?.join(" ") ?? say("phone.bill.none"));
    table.replaceChildren(...(bill === null ? [] : billTable(bill)));
    [...parts, ...fields].forEach((one) => one.refresh(sight));
  };
  return { root, refresh };
}
