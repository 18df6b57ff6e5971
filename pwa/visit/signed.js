// What a customer signed for: the visit as it stood then, and the entries that bring its bill back.
// Pure: whether it is another now is the kernel's to say.

import { canonical, replay } from "../kernel.js";
import { baseOf } from "./known_cards.js";
import { pointerOf } from "./visit_model.js";

const LINE = /** @type {const} */ (["text", "quantity", "unit_price", "tax_pct"]);
const WHOLE = /** @type {const} */ (["discount", "currency"]);

/** @param {Op} op @param {Op} other */
const isBefore = (op, other) => (op.device === other.device ? op.seq <= other.seq : op.at <= other.at);

/**
 * The visit as it stood when it was signed; null where nobody signed.
 *
 * @param {Page} page
 * @param {Kinds} kinds
 * @returns {Visit | null}
 */
export function signedVisit({ ops, visit }, kinds) {
  const given = ops.findLast((op) => op.kind === "signature.add" && op.body.at === visit.signature?.at);
  return given === undefined ? null : replay(ops.filter((op) => isBefore(op, given)), kinds).visit;
}

/** What stands there, by its codes. @param {Visit} visit */
export const codesOf = (visit) => ({
  done: (visit.work ?? []).map(({ code }) => code),
  moved: (visit.refrigerant_moves ?? []).map(({ kind }) => kind),
});

/**
 * The entries that make the bill what it was when it was signed.
 *
 * @param {Page} page
 * @param {Visit} then
 * @param {Kinds} kinds
 * @param {() => string} newId
 * @returns {OpBody[]}
 */
export function backTo(page, then, kinds, newId) {
  const [lines, before] = [page.visit.charges ?? [], then.charges ?? []];
  const strikes = lines.filter(({ id }) => !before.some((line) => line.id === id))
    .map(({ id }) => ({ kind: "item.strike", base: {}, body: { list: "charges", id } }));
  const again = before.flatMap((line) => {
    const now = lines.find(({ id }) => id === line.id);
    if (now === undefined) return [{ kind: "charge.add", base: {}, body: { ...line, id: newId() } }];
    const names = LINE.filter((name) => canonical(now[name] ?? null) !== canonical(line[name] ?? null));
    if (names.length === 0) return [];
    const pointers = names.map((name) => pointerOf(["charges", line.id, name]));
    const base = Object.fromEntries(pointers.map((pointer) => [pointer, page.heads[pointer]?.[0] ?? null]));
    const values = Object.fromEntries(names.map((name) => [name, line[name] ?? null]));
    return [{ kind: "charge.set", base, body: { id: line.id, ...values } }];
  });
  const whole = WHOLE.filter((name) => (page.visit[name] ?? null) !== (then[name] ?? null));
  const body = Object.fromEntries(whole.map((name) => [name, then[name] ?? null]));
  const set = whole.length === 0 ? [] : [{ kind: "visit.set", base: baseOf(page, body, kinds), body }];
  return [...strikes, ...again, ...set];
}
