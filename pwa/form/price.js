// The bill of a visit, folded into one line until it is wanted: lines, discount, currency, how it was paid, the total.
// DOM only: what it comes to is reckoned by the kernel; lines are entries of the page like any other.

import { decimal_text, reckon } from "../kernel.js";
import { button, el, say } from "./elements.js";

/** @typedef {[what: string, sum: string]} BillRow */

/** A sum of the smallest unit as people write it. @param {bigint} value @param {number} digits */
const moneyText = (value, digits) => decimal_text(value, digits).replace("-", "\u2212");

/** A rate in millionths of a percent, without idle noughts. @param {bigint} rate */
const rateText = (rate) => moneyText(rate, 6).replace(/\.?0+$/, "");

/** The decimals of a currency's smallest unit. @param {string} currency @param {Rulebook} rulebook @returns {number} */
const digitsOf = (currency, rulebook) => rulebook.currencies.minor_digits[currency] ?? 2;

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
  const words = rulebook.words.visit.price;
  const currency = visit.currency ?? "";
  const digits = digitsOf(currency, rulebook);
  const bill = reckon(charges, visit.discount ?? null, digits);
  /** @type {BillRow[]} */
  const rows = [];
  if (bill.taxes.length > 0 || bill.discount !== 0n) rows.push([words.net, moneyText(bill.net, digits)]);
  if (bill.discount !== 0n) rows.push([words.discount, moneyText(-bill.discount, digits)]);
  for (const { rate, base, tax } of bill.taxes) {
    const what = words.tax.replace("{rate}", rateText(rate)).replace("{base}", moneyText(base, digits));
    rows.push([what, moneyText(tax, digits)]);
  }
  const named = currency === "" ? words.total_plain : words.total.replace("{currency}", currency);
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
  const root = el("details", { class: "held price" }, el("summary", null, el("b", null, "Price"), line, turn));
  /** @type {Part[]} */
  let parts = [];
  function draw() {
    parts = lines(draw);
    list.replaceChildren(...parts.map((one) => one.root));
  }
  const more = button("Add a line", () => {
    add();
    draw();
    tools.typed();
    list.lastElementChild?.querySelector("input")?.focus();
  }, { class: "quiet" });
  root.append(list, more, el("div", null, fields.map((one) => one.root)), el("table", { class: "sides bill" }, table));
  const turned = () => say(turn, root.open ? "fold away" : "open");
  root.addEventListener("toggle", turned);
  turned();
  draw();
  /** @param {Sight} sight */
  const refresh = (sight) => {
    const bill = billOf(sight.visit, tools.rulebook);
    say(line, bill?.at(-1)?.join(" ") ?? "nothing charged yet");
    table.replaceChildren(...(bill === null ? [] : billTable(bill)));
    [...parts, ...fields].forEach((one) => one.refresh(sight));
  };
  return { root, refresh };
}
