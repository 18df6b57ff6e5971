// The cards of an open visit: who its vehicle and customer are, and what is known of them from elsewhere.
// It draws nothing; what a card comes to is told by known_cards.js, and a person's words are never changed.

import { merged } from "../kernel.js";
import { joined } from "./earlier_cards.js";
import { createKnownCharts } from "./known_charts.js";
import { baselineFor, baseOf, identityOf, markOf, offerOf } from "./known_cards.js";

/** @typedef {{views: VisitView[], mine: Visit}} Surroundings every visit on the phone, and this one among them */

/**
 * @param {Page} page
 * @param {{outbox: Outbox, capture: Capture, rulebook: Rulebook}} notebook
 */
export function createOpenCards(page, { outbox, capture, rulebook }) {
  const { kinds } = rulebook;
  const { chartFor, chartsLike } = createKnownCharts(page, { outbox, kinds });

  // Customers that the desk joined stand under one id.
  /** @returns {Promise<Surroundings>} */
  async function around() {
    const [ops, views] = await Promise.all([outbox.customerOps(), outbox.visits()]);
    const over = merged(ops, kinds);
    return { views: joined(views, over), mine: joined([page], over)[0].visit };
  }

  /** @param {"vehicle" | "customer"} what @param {string | undefined} id @returns {Promise<Op[]>} */
  const opsOn = async (what, id) => (id === undefined ? [] : outbox.cardOps(`${what} ${id}`));

  /**
   * Notes on the page what is known of vehicle and customer: the offers to take it over, and whether the last test is
   * marked healthy.
   *
   * @param {Surroundings | null} [near] where they are known already
   */
  async function look(near = null) {
    const vehicle = page.visit.vehicle?.id;
    const onVehicle = await opsOn("vehicle", vehicle);
    const test = (page.visit.tests ?? []).at(-1)?.id ?? null;
    const { views, mine } = near ?? (await around());
    const onCustomer = await opsOn("customer", mine.customer?.id);
    page.offers = {
      vehicle: offerOf("vehicle", mine, views, onVehicle, kinds),
      customer: offerOf("customer", mine, views, onCustomer, kinds),
    };
    const healthy = test === null ? null : markOf(onVehicle, page.id, test, kinds);
    page.mark = { test, vehicle: vehicle ?? null, healthy };
  }

  /**
   * Says in the visit who its vehicle and customer are, and brings along what the vehicle showed when it was healthy
   * and its maker's chart.
   *
   * @param {(() => string) | null} [fresh] gives ids to those that nobody knows
   */
  async function identify(fresh = null) {
    if (page.ops.length === 0) return;
    const { views } = await around();
    /** @type {{vehicle?: Tree, customer?: Tree}} */
    const body = identityOf(page.visit, views, fresh);
    const vehicle = body.vehicle?.id ?? page.visit.vehicle?.id;
    const baseline = vehicle === undefined ? null : baselineFor(page.visit, await outbox.recall(`baseline ${vehicle}`));
    const chart = vehicle === undefined ? undefined : await chartFor(vehicle, views);
    if (baseline !== null) body.vehicle = { ...body.vehicle, baseline };
    if (chart !== undefined) body.vehicle = { ...body.vehicle, chart };
    if (Object.keys(body).length > 0) {
      await capture.write(page, [{ kind: "visit.set", base: baseOf(page, body, kinds), body }]);
    }
    await look();
  }

  return { around, look, identify, chartsLike };
}
