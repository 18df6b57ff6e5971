// What a job sheet still lacks, at the end of the last step: a key for each that leads to its field, and the name of
// the business, which is asked once for all sheets.
// DOM only: what is missing is read off the visit, what a tap writes is an action.

import { button, el, freshId } from "./elements.js";
import { say } from "../language/words.js";

/** What is missing: its code, and where it is asked. @param {Visit} visit @returns {[string, string, string][]} */
function wantsOf({ vehicle, customer, outcome, charges, tests }) {
  /** @type {[boolean, [string, string, string]][]} */
  const all = [
    [(tests ?? []).length > 0 && !vehicle?.refrigerant, ["refrigerant", "vehicle", "vehicle.refrigerant"]],
    [!outcome, ["outcome", "result", "outcome"]],
    [(charges ?? []).length === 0, ["price", "result", "price"]],
    [!customer?.email, ["email", "customer", "customer.email"]],
  ];
  return all.filter(([isMissing]) => isMissing).map(([, want]) => want);
}

/** @param {Actions} actions */
function businessField(actions) {
  const id = freshId("business");
  const input = el("input", { id, class: "written", type: "text", autocomplete: "organization", maxlength: "200" });
  const save = () => input.value.trim() !== "" && actions.nameBusiness(input.value.trim());
  return el("div", { class: "field" },
    el("label", { for: id }, say("phone.settings.business")),
    el("p", { class: "meaning" }, say("phone.wants.business")), input,
    button(say("phone.wants.save"), save, { class: "quiet" }));
}

/**
 * @param {Actions} actions
 * @returns {Part}
 */
export function sheetWants(actions) {
  const list = el("ul", { class: "wants" });
  const business = businessField(actions);
  const root = el("section", null, el("h2", null, say("phone.wants.title")), list, business);
  let shown = "";
  return {
    root,
    refresh: ({ visit }) => {
      const wants = wantsOf(visit);
      business.hidden = Boolean(visit.technician?.business);
      root.hidden = wants.length === 0 && business.hidden;
      const now = wants.join();
      if (now === shown) return;
      shown = now;
      list.replaceChildren(...wants.map(([code, slug, name]) =>
        el("li", null, button(say(`phone.wants.${code}`), () => actions.reach(slug, name), { class: "quiet" }))));
    },
  };
}
