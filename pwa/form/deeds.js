// The caution for a deed at its tick: it opens in place before the deed; one key confirms it and starts its clock.
// DOM only: which caution comes with which deed is the rulebook's; an entry stands once one of the keys is pressed.

import { cautions_at, clock_limit_min, deed_at } from "../kernel.js";
import { button, el, freshId, setText } from "./elements.js";
import { clock } from "../language/formats.js";
import { say, term } from "../language/words.js";

/** @typedef {Map<string, Item[]>} Waiting entries that wait for a caution, by its codes; it stands at the first */

/** @typedef {{read: boolean, clocked: boolean}} How a deed begins */
/** @typedef {NonNullable<ReturnType<typeof deed_at>>} Deed */

/** The cautions with their titles. @param {string[]} codes */
const sentencesOf = (codes) => codes.flatMap((code) => [
  el("h3", null, say(`phone.deed.before.${code}`)), el("p", null, term("caution", code)),
]);

/**
 * One key that confirms and starts the clock, if the deed has one, and the keys that don't start it.
 *
 * @param {Item} item
 * @param {Deed} deed
 * @param {Rulebook} rulebook
 * @param {(how: How) => unknown} go
 */
function keysOf(item, { clock: name, idle = false }, rulebook, go) {
  /** @param {string} words @param {How} how @param {string} kind */
  const key = (words, how, kind) => button(words, () => go(how), { class: kind });
  if (name === undefined) return [key(say("phone.deed.read"), { read: true, clocked: false }, "main")];
  const minutes = clock_limit_min(`${name}.${item.slot}`, rulebook) ?? 0;
  const start = key(say("phone.deed.start", { minutes }), { read: true, clocked: true }, "main");
  const unclocked = key(say("phone.deed.no_clock"), { read: true, clocked: false }, "quiet");
  const without = idle && key(say("phone.deed.idle"), { read: false, clocked: false }, "quiet");
  return [el("p", { class: "meaning" }, say("phone.clock.locked")), start,
    el("div", { class: "ways apart" }, unclocked, without)];
}

/**
 * The caution of an entry; null where none belongs to it.
 *
 * `stand(item)` notes the entry, `begin(item, clock)` begins a clock of it.
 *
 * @param {Item} item
 * @param {Tools} tools
 * @param {Waiting} waiting
 * @param {{stand: (item: Item) => void, begin: (item: Item, clock: string) => void}} deeds
 */
export function deedCaution(item, tools, waiting, { stand, begin }) {
  const { rulebook, page } = tools;
  const codes = cautions_at(item.list, item.slot, rulebook);
  const known = deed_at(item.list, item.slot, rulebook);
  if (known === null) return null;
  /** @type {Deed} */
  const deed = known;
  const id = freshId("deed");
  const title = freshId("deed-title");
  const readAt = () => (page.visit.cautions ?? []).filter((one) => codes.includes(one.code));
  const unread = () => codes.filter((code) => !readAt().some((one) => one.code === code));
  const keyOf = () => unread().join(" ");
  const queue = () => waiting.get(keyOf()) ?? [];
  const waits = () => queue().some((one) => one.slot === item.slot);
  const block = el("section", { class: "caution", id, role: "group", "aria-labelledby": title });
  const note = el("span", { class: "meaning" });

  /** @param {How} how */
  async function go({ read, clocked }) {
    const [key, standing] = [keyOf(), queue()];
    if (read && !(await tools.readCautions(unread()))) return;
    waiting.delete(key);
    standing.forEach(stand);
    if (clocked && deed.clock !== undefined) begin(item, deed.clock);
    tools.typed();
  }

  let shown = "";
  function refresh() {
    const isHere = queue()[0]?.slot === item.slot && keyOf() !== "";
    // Built once while it is shown, so that no key disappears from under a finger.
    const now = isHere ? keyOf() : "";
    if (now !== shown) {
      const words = el("div", { class: "bar" }, sentencesOf(unread()));
      words.querySelector("h3")?.setAttribute("id", title);
      block.replaceChildren(...(isHere ? [words, ...keysOf(item, deed, rulebook, go)] : []));
    }
    shown = now;
    block.hidden = !isHere;
    const last = readAt().map((one) => one.at ?? "").sort().at(-1);
    const isRead = unread().length === 0 && last !== undefined && last !== "";
    setText(note, isRead ? say("phone.deed.was_read", { clock: clock(new Date(last)) }) : "");
  }

  /** The entry waits for its caution, or no longer does. */
  function turn() {
    const others = queue().filter((one) => one.slot !== item.slot);
    waiting.set(keyOf(), waits() ? others : [...others, item]);
  }

  return { id, block, note, waits, turn, refresh, isOpen: () => unread().length > 0 };
}
