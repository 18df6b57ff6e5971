// The makers' charts that this phone knows: which one comes with a vehicle, and which are those of cars alike.
// It draws and writes nothing; what a card comes to is told by known_cards.js.

import { cardFields, modelOf, others } from "./known_cards.js";

// Cards that are read for charts of cars alike, and charts that are offered.
const [CARDS_MOST, CHARTS_MOST] = [20, 3];

/**
 * @param {Page} page
 * @param {{outbox: Outbox, kinds: Kinds}} parts
 */
export function createKnownCharts(page, { outbox, kinds }) {
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
   * The chart that comes with a vehicle into a visit that never had one, or that had the one of another vehicle which
   * this one was first taken for; undefined where the visit's own stays.
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
