// How a car is usually tested: the conditions of its own last test, else those of the technician's last.
// Pure: views of visits in, a test out; nothing is recorded by it.

import { sameVehicle } from "./known_cards.js";
import { entries } from "./steps.js";
import { valueAt } from "./visit_model.js";

/**
 * The last test of another visit in which a condition was recorded that is offered as usual.
 *
 * @param {VisitView[]} views
 * @param {Page} page
 * @param {StepPart[]} fields those of a test
 * @returns {Test | undefined}
 */
export function usualTestOf(views, { id, visit }, fields) {
  const paths = entries(fields).filter((field) => field.carried === true).map(({ path }) => path);
  /** @param {VisitView[]} some */
  const last = (some) => some.flatMap((view) => view.visit.tests ?? [])
    .filter((test) => paths.some((path) => valueAt(test, path) !== undefined))
    .sort((one, other) => Date.parse(one.at) - Date.parse(other.at))
    .at(-1);
  const others = views.filter((view) => view.id !== id);
  const { technician, vehicle = {} } = visit;
  return last(others.filter((view) => sameVehicle(view.visit.vehicle ?? {}, vehicle)))
    ?? last(others.filter((view) => view.visit.technician?.name === technician?.name));
}
