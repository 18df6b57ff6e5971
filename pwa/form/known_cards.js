// What is known of vehicle and customer, offered on their steps, and the mark of a healthy test, offered on the result.
// DOM only: what is known is handed in, what a tap writes is an action.

import { button, el } from "./elements.js";
import { withHelp } from "./help.js";
import { day } from "../language/formats.js";
import { fieldName, say, term } from "../language/words.js";
import { sentences } from "./words.js";

const NAMED_BY = { vehicle: ["make", "model", "refrigerant"], customer: ["name", "phone", "email"] };

/**
 * Nothing where nothing is known; the visit takes over what it does not say itself, never more.
 *
 * @param {Page} page
 * @param {"vehicle" | "customer"} what
 * @param {(what: "vehicle" | "customer") => unknown} takeOver
 */
export function offer(page, what, takeOver) {
  const card = page.offers?.[what] ?? null;
  if (card === null) return null;
  const { seen, fields, missing } = card;
  /** @param {string} name */
  const words = (name) => (name === "refrigerant" && fields[name] ? term(name, fields[name]) : fields[name]);
  const name = NAMED_BY[what].map(words).filter((part) => part).join(", ");
  const names = Object.keys(missing).map((field) => fieldName([what, field]));
  const known = sentences([
    say(`phone.known.${what}${name === "" ? "" : "_named"}`, { name }),
    seen !== null && say("phone.known.seen", { day: day(new Date(seen)) }),
  ]);
  return el(
    "section", { class: "notice" },
    el("p", { class: "sentence" }, known),
    names.length > 0 && el("p", { class: "meaning" }, say("phone.known.missing", { fields: names.join(", ") })),
    names.length > 0 && button(say("phone.known.take"), () => takeOver(what), { class: "quiet" }),
  );
}

/**
 * The last test as this vehicle's own yardstick, for someone who has seen that it cools as it should.
 *
 * @param {Page} page
 * @param {(healthy: boolean) => unknown} markHealthy
 */
export function healthyMark(page, markHealthy) {
  const { test, healthy } = page.mark ?? {};
  const named = page.visit.vehicle?.plate || page.visit.vehicle?.vin;
  if (!test || !named) return null;
  const [words, press] = healthy === true ? ["healthy", "unmark"] : ["not_healthy", "mark"];
  const key = button(say(`phone.known.${press}`), () => markHealthy(healthy !== true), { class: "quiet" });
  const meaning = el("p", { class: "meaning" }, say(`phone.known.${words}`));
  return el("section", { class: "notice" }, meaning, withHelp(key, "mark_healthy"));
}
