// What is signed for, in words, and what is said if it has changed since: both sums line by line, and the ways on.
// DOM only: the kernel says whether it has changed; what was signed is in visit/signed.js.

import { signed_otherwise } from "../kernel.js";
import { codesOf, signedVisit } from "../visit/signed.js";
import { button, el } from "./elements.js";
import { chargedOf, digitsOf, rateText } from "./price.js";
import { clock } from "../language/formats.js";
import { say, term } from "../language/words.js";

/** The work of a visit in words: what was done, moved, tested and kept. @param {Visit} visit */
export function workWords(visit) {
  const { done, moved } = codesOf(visit);
  const roles = new Set((visit.tests ?? []).filter((test) => test.readings !== undefined).map((test) => test.role));
  const tested = roles.has("before") && roles.has("after") ? "tested_twice" : "tested_once";
  return [
    ...done.map((code) => term("work", code)),
    ...moved.map((kind) => term("move", kind)),
    ...(roles.size > 0 ? [say(`phone.signature.${tested}`)] : []),
    ...((visit.photos ?? []).length > 0 ? [say("phone.signature.photos")] : []),
  ].join(", ");
}

/**
 * What a signature binds as it is given: the sum, the work in words and by its codes.
 *
 * @param {Visit} visit
 * @param {Rulebook} rulebook
 */
export function boundBy(visit, rulebook) {
  const [sum, work] = [chargedOf(visit, rulebook)?.sum, workWords(visit)];
  return { ...(sum === undefined ? {} : { sum }), ...(work === "" ? {} : { work }), ...codesOf(visit) };
}

/** Which of "bill" and "work" have changed. @param {Visit} visit @param {Rulebook} rulebook */
export const changedSince = (visit, rulebook) =>
  signed_otherwise(visit, digitsOf(visit.currency ?? "", rulebook));

/**
 * Both bills line by line: each with its sum then and now.
 *
 * @param {Visit} then
 * @param {Visit} now
 * @param {Rulebook} rulebook
 */
function rowsOf(then, now, rulebook) {
  const bills = [then, now].map((visit) => ({ visit, charged: chargedOf(visit, rulebook) }));
  const none = say("phone.signature.changed.nothing");
  /** @type {Map<string, {label: string, sums: string[]}>} */
  const rows = new Map();
  for (const [side, { visit, charged }] of bills.entries()) {
    if (charged === null) continue;
    const { bill, money } = charged;
    /** @param {string} key @param {string} label @param {bigint} value */
    const put = (key, label, value) => {
      const row = rows.get(key) ?? { label, sums: [none, none] };
      row.sums[side] = money(value);
      rows.set(key, { ...row, label });
    };
    for (const [place, line] of bill.lines.entries()) put(visit.charges?.[place].id ?? "", line.text, line.net);
    if (bill.discount !== 0n) put("discount", say("visit.price.discount"), -bill.discount);
    for (const { rate, base, tax } of bill.taxes) {
      put(`tax ${rate}`, say("visit.price.tax", { rate: rateText(rate), base: money(base) }), tax);
    }
  }
  const totals = bills.map(({ charged }) => charged?.shown ?? none);
  const sorted = [...rows].sort(([one], [other]) => rankOf(one) - rankOf(other)).map(([, row]) => row);
  return { rows: sorted, totals };
}

/** Lines come first, then the discount, then the tax. @param {string} key */
const rankOf = (key) => (key === "discount" ? 1 : Number(key.startsWith("tax ")) * 2);

/** @param {string} label @param {string[]} sums @param {string | null} kind */
const rowOf = (label, sums, kind) => el("tr", { class: kind }, el("th", { scope: "row" }, label),
  sums.map((sum, side) => el("td", { class: side === 0 ? "number meaning" : "number" }, sum)));

/** @param {Visit} then @param {Visit} now @param {Rulebook} rulebook */
function bothBills(then, now, rulebook) {
  const { rows, totals } = rowsOf(then, now, rulebook);
  const at = clock(new Date(now.signature?.at ?? ""));
  const heads = [say("phone.signature.changed.signed", { clock: at }), say("phone.signature.changed.now")];
  const { currency = "" } = now;
  const total = currency === "" ? say("visit.price.total_plain") : say("visit.price.total", { currency });
  return el(
    "table", { class: "sides bill" },
    el("thead", null, el("tr", null, el("td"), heads.map((head) => el("th", { scope: "col", class: "number" }, head)))),
    el("tbody", null, rows.map(({ label, sums }) => rowOf(label, sums, null)), rowOf(total, totals, "grand")),
  );
}

/**
 * Says that what was signed for has changed, and the ways on; null if it hasn't.
 *
 * @param {Page} page
 * @param {Visit} now
 * @param {Rulebook} rulebook
 * @param {{again: () => unknown, back: () => unknown, leave: () => unknown}} ways
 */
export function changedNotice(page, now, rulebook, { again, back, leave }) {
  const changed = changedSince(now, rulebook);
  const then = signedVisit(page, rulebook.kinds);
  if (changed.length === 0 || then === null) return null;
  const nothing = say("phone.signature.changed.nothing");
  const name = now.signature?.name ?? say("phone.signature.changed.somebody");
  const [signed, stands] = [then, now].map((visit) => chargedOf(visit, rulebook)?.shown ?? nothing);
  const sentences = changed.map((what) => el("p", null, say(`phone.signature.changed.${what}`, what === "bill"
    ? { name, then: signed, now: stands }
    : { name, then: now.signature?.work ?? nothing, now: workWords(now) || nothing })));
  const isBill = changed.includes("bill");
  const signAgain = isBill ? say("phone.signature.sign_for", { sum: stands }) : say("phone.signature.again");
  const print = isBill ? say("phone.signature.leave", { sum: signed }) : say("phone.signature.leave_plain");
  return el(
    "section", { class: "voided" }, el("div", { class: "turned" }, sentences),
    isBill && bothBills(then, now, rulebook), button(signAgain, again, { class: "main" }),
    isBill && button(say("phone.signature.go_back", { sum: signed }), back, { class: "outlined" }),
    button(print, leave, { class: "quiet" }),
  );
}
