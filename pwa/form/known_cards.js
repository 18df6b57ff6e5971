// What is known of vehicle and customer, offered on their steps, and the mark of a healthy test, offered on the result.
// DOM only: what is known is handed in, what a tap writes is an action.

import { button, el } from "./elements.js";
import { withHelp } from "./help.js";
import { codeWords, dayOf } from "./words.js";

const NAMED_BY = { vehicle: ["make", "model", "refrigerant"], customer: ["name", "phone", "email"] };

/**
 * Nothing where nothing is known; the visit takes over what it does not say itself, never more.
 *
 * @param {Page} page
 * @param {"vehicle" | "customer"} what
 * @param {Rulebook} rulebook
 * @param {(what: "vehicle" | "customer") => unknown} takeOver
 */
export function offer(page, what, rulebook, takeOver) {
  const card = page.offers?.[what] ?? null;
  if (card === null) return null;
  const { seen, fields, missing } = card;
  /** @param {string} name */
  const words = (name) =>
    name === "refrigerant" && fields[name] ? codeWords(rulebook, fields[name], name) : fields[name];
  const named = NAMED_BY[what].map(words).filter((part) => part).join(", ");
  const when = seen === null ? "" : `, here before on ${dayOf(new Date(seen))}`;
  const names = Object.keys(missing).map((name) => codeWords(rulebook, name, "field"));
  return el(
    "section", { class: "notice" },
    el("p", { class: "sentence" }, `This ${what} is known${named === "" ? "" : `: ${named}`}${when}.`),
    names.length > 0 && el("p", { class: "meaning" }, `Not written here yet: ${names.join(", ")}.`),
    names.length > 0 && button("Take over what is known", () => takeOver(what), { class: "quiet" }),
  );
}

const MARKED = "The last test stands as what this vehicle shows when healthy.";
const UNMARKED =
  "Does this vehicle cool as it should now? Its last test can serve later visits as its own yardstick.";

/**
 * The last test as this vehicle's own yardstick, for whoever has seen that it cools as it should.
 *
 * @param {Page} page
 * @param {(healthy: boolean) => unknown} markHealthy
 */
export function healthyMark(page, markHealthy) {
  const { test, healthy } = page.mark ?? {};
  const named = page.visit.vehicle?.plate || page.visit.vehicle?.vin;
  if (!test || !named) return null;
  const key = button(
    healthy === true ? "Take the mark back" : "Mark the last test healthy",
    () => markHealthy(healthy !== true), { class: "quiet" },
  );
  const words = healthy === true ? MARKED : UNMARKED;
  return el("section", { class: "notice" }, el("p", { class: "meaning" }, words), withHelp(key, "mark_healthy"));
}
