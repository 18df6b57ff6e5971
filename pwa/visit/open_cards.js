// The cards of an open visit: who its vehicle and customer are, and what is known of them from elsewhere.
// It draws nothing; what a card comes to is told by known_cards.js, and a person's words are never changed.

import { merged } from "../kernel.js";
import { joined } from "./earlier_cards.js";
import { baselineFor, baseOf, cardFields, identityOf, markOf, modelOf, offerOf, others } from "./known_cards.js";

/** @typedef {{views: VisitView[], mine: Visit}} Surroundings every visit on the phone, and this one among them */

// How many cards are read for charts of similar cars, and how many charts are offered.
const [CARDS_MOST, CHARTS_MOST] = [20, 3];

/**
 * The makers' charts that this phone knows: which one comes with a vehicle, and which belong to similar cars.
 *
 * @param {Page} page
 * @param {{outbox: Outbox, kinds: Kinds}} parts
 */
function createKnownCharts(page, { outbox, kinds }) {
  /**
   * The chart on a vehicle's card: as this phone knows it from other visits, else as the desk told it.
   *
   * @param {string} id
   * @param {VisitView[]} views
   * @returns {Promise<Chart | undefined>}
   */
  async function chartOf(id, views) {
    const visits = others(page.visit, views, "vehicle").filter((one) => one.vehicle?.id === id);
    const { chart } = cardFields("vehicle", visits, await outbox.cardOps(`vehicle ${id}`), kinds);
    return chart ?? outbox.recall(`chart ${id}`);
  }

  /**
   * The charts of other vehicles of the same make, model and year, each once, the newest visit's first.
   *
   * @param {Vehicle | undefined} vehicle
   * @param {VisitView[]} views
   */
  async function chartsLike(vehicle, views) {
    const model = modelOf(vehicle);
    const alike = others(page.visit, views, "vehicle").map((one) => one.vehicle ?? {});
    const named = alike.filter((one) => model !== null && modelOf(one) === model && one.id !== vehicle?.id);
    const ids = [...new Set(named.map((one) => one.id ?? ""))].slice(0, CARDS_MOST);
    const charts = await Promise.all(ids.map((id) => chartOf(id, views)));
    const texts = new Set(charts.filter((chart) => chart !== undefined).map((chart) => JSON.stringify(chart)));
    /** @type {Chart[]} */
    const once = [...texts].map((text) => JSON.parse(text));
    return once.slice(0, CHARTS_MOST);
  }

  /**
   * The chart that comes with a vehicle into a visit that never had one, or that had the chart of another vehicle
   * that this one was first taken for; undefined where the visit's own stays.
   *
   * @param {string} vehicle
   * @param {VisitView[]} views
   */
  async function chartFor(vehicle, views) {
    const { chart, id } = page.visit.vehicle ?? {};
    if (page.visit.ended_at !== undefined || page.draft.fields["vehicle.chart"] !== undefined) return undefined;
    const own = await chartOf(vehicle, views);
    if (page.heads["/vehicle/chart"] === undefined) return own;
    if (chart === undefined || id === undefined || id === vehicle) return undefined;
    const taken = JSON.stringify(await chartOf(id, views)) === JSON.stringify(chart);
    return taken ? (own ?? null) : undefined;
  }

  return { chartFor, chartsLike };
}

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
