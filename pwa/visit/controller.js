// An open visit in work: the bridge between its screen, its page and the outbox.
// It draws nothing itself and sends nothing; it orders what happens when a step is typed in, left or finished.

import { baseOf, baselineFor, identityOf, markOf, offerOf } from "./known_cards.js";
import { faultsOf, mendingOf, settlementOf, stepForPointer } from "./conflicts.js";
import { hasDraft, testOf } from "./visit_model.js";
import { assess, merged, model_year, shown_text, vin_state } from "../kernel.js";
import { sha256Hex } from "../sync/op_line.js";
import { joined, lastTestOf, recordsOf } from "./earlier_cards.js";
import { createAutosave } from "./autosave.js";
import { openClocks } from "./open_timers.js";
import { photoActions } from "./photo_actions.js";
import { stepOf, STEPS } from "./steps.js";
import { visitScreen } from "../form/visit.js";
import { faultWords, saved, VIN_WORDS } from "../form/words.js";

const TICK_MS = 1000;
const TRACED = ["vent_c", "low_kpa_g", "high_kpa_g", "return_air_c"];

const unitDefaults = { pressure: "psi", temperature: "f", altitude: "ft", mass: "oz", distance: "mi", vacuum: "micron" };
const metricDefaults = { pressure: "kpa", temperature: "c", altitude: "m", mass: "g", distance: "km", vacuum: "pa" };

// What a phone starts with, by where its language says it is; the settings and every unit button change it.
export const firstUnits = (language) => (/-(US|LR|MM)$/.test(language) ? { ...unitDefaults } : { ...metricDefaults });

// `vacuum` has a unit on the phone only: the record's units name no such quantity.
export function openingOf(settings, startedAt) {
  const { vacuum: _, ...units } = settings.units;
  const opening = { started_at: startedAt, units: { technician: units } };
  const technician = Object.fromEntries(Object.entries(settings.technician ?? {}).filter(([, value]) => value));
  if (Object.keys(technician).length > 0) opening.technician = technician;
  if (Object.keys(settings.instruments ?? {}).length > 0) opening.instruments = settings.instruments;
  if (settings.currency) opening.currency = settings.currency.toUpperCase();
  return opening;
}

function vinWords(text) {
  const year = model_year(text);
  return [VIN_WORDS[vin_state(text)], year === null ? null : `Model year ${year}.`].filter((part) => part).join(" ");
}

export async function openVisit(id, slug, desk) {
  const { capture, outbox, rulebook, places, settings, saveSettings, say, go, sendSoon } = desk;
  const page = await capture.open(id, openingOf(settings(), capture.now()));
  const shut = { closed: false, stale: false };
  let step = stepOf(slug);
  let screen = null;
  const failed = (error) => say(faultWords(error), "wrong");
  const kept = (instant) => say(saved(new Date(instant)));
  const stored = (instant) => {
    kept(instant);
    desk.stored();
    sendSoon();
  };
  const keeper = createAutosave({ keepDraft: () => capture.keepDraft(page), onKept: kept, onFault: failed });

  function unitFor(field) {
    if (field.quantity === undefined) return undefined;
    return field.unit ?? settings().units[field.quantity] ?? metricDefaults[field.quantity];
  }

  // Every visit on the phone, and this one as `mine`: customers that the desk joined stand under one id.
  async function around() {
    const [ops, views] = await Promise.all([outbox.customerOps(), outbox.visits()]);
    const over = merged(ops, rulebook.kinds);
    return { views: joined(views, over), mine: joined([page], over)[0].visit };
  }

  const [near, clocks] = await Promise.all([around(), openClocks(id, { outbox, failed, say })]);
  const tools = {
    page, rulebook, unitFor, clocks, app: desk.app,
    units: () => settings().units,
    instruments: () => settings().instruments ?? {},
    now: capture.now,
    say,
    records: recordsOf(near.views, id),
    lastTest: lastTestOf(near.views, id),
    newId: capture.newId,
    taxPct: () => settings().tax_pct,
    freshTest: () => ({ id: capture.newId(), at: capture.now() }),
    hintFor: (field, entry) => (field.check === "vin" ? vinWords(entry.text) : null),
    typed: () => {
      say("Typing");
      keeper.typed();
      screen.refresh();
    },
    preferUnit: (quantity, unit) => {
      saveSettings({ ...settings(), units: { ...settings().units, [quantity]: unit } });
      screen.refresh();
    },
  };

  // What is known of vehicle and customer: the offers to take it over, and whether the last test is marked healthy.
  async function look(found = null) {
    const car = page.visit.vehicle?.id;
    const ops = car === undefined ? [] : await outbox.cardOps(`vehicle ${car}`);
    const test = (page.visit.tests ?? []).at(-1)?.id ?? null;
    const { views, mine } = found ?? (await around());
    const person = mine.customer?.id;
    const said = person === undefined ? [] : await outbox.cardOps(`customer ${person}`);
    page.offers = {
      vehicle: offerOf("vehicle", mine, views, ops, rulebook.kinds),
      customer: offerOf("customer", mine, views, said, rulebook.kinds),
    };
    page.mark = { test, vehicle: car ?? null, healthy: test === null ? null : markOf(ops, id, test, rulebook.kinds) };
  }

  // Says in the visit who its vehicle is, and brings along what that showed when it was healthy.
  async function identify(fresh = null) {
    if (page.ops.length === 0) return;
    const body = identityOf(page.visit, (await around()).views, fresh);
    const car = body.vehicle?.id ?? page.visit.vehicle?.id;
    const baseline = car === undefined ? null : baselineFor(page.visit, await outbox.recall(`baseline ${car}`));
    if (baseline !== null) body.vehicle = { ...body.vehicle, baseline };
    if (Object.keys(body).length > 0) await capture.write(page, [{ kind: "visit.set", base: baseOf(page, body, rulebook.kinds), body }]);
    await look();
  }

  // Others changed this visit. While a person types, the page stays as they see it, and so does what they build on.
  async function renew() {
    shut.stale = true;
    await desk.lifted();
    if (places.page.contains(places.page.ownerDocument.activeElement) || shut.closed) return;
    await catchUp();
    draw();
  }

  async function catchUp() {
    if (!shut.stale) return;
    await capture.renew(page);
    shut.stale = false;
  }

  // Writes the step's operations; true when everything that could be written is written.
  async function leave() {
    try {
      const instant = await capture.keep(page, step);
      await catchUp();
      await identify();
      if (!hasDraft(page.draft)) keeper.settled();
      else await keeper.flush();
      if (instant !== null) stored(instant);
      return true;
    } catch (error) {
      failed(error);
      return false;
    }
  }

  async function write(bodies) {
    try {
      stored(await capture.write(page, bodies));
      return true;
    } catch (error) {
      failed(error);
      return false;
    }
  }

  const confirmed = (cautions) => {
    const at = capture.now();
    return cautions.map((caution) => ({ kind: "caution.confirm", base: {}, body: { id: capture.newId(), code: caution.code, at } }));
  };

  const setting = (pointer, body) => ({ kind: "visit.set", base: { [pointer]: page.heads[pointer]?.[0] ?? null }, body });

  // The verdict as it stands on the screen, by its digest: the sheet says so when it comes to another.
  async function verdictShown() {
    const digest = await sha256Hex(shown_text(assess(page.visit, rulebook, desk.app)));
    return { kind: "verdict.shown", base: {}, body: { rulebook: rulebook.hash, app: desk.app, at: capture.now(), digest } };
  }

  // The faulty part is left out of what is sent again, and its field is opened to be written anew.
  async function mend(record) {
    const mending = mendingOf(record, rulebook.kinds);
    if (mending === null) return say("Nothing of this entry can be sent without its fault. It stays here; write it anew in its step.", "wrong");
    const slug = stepForPointer(faultsOf(record)[0].inBody, page.visit, STEPS);
    if (!(await leave()) || !(await write([mending]))) return undefined;
    return slug === null ? draw() : go(id, slug);
  }

  const settle = async (op) => (await leave()) && (await write([settlementOf(page.conflicts, op)])) && draw();

  // By the phone's own way of sharing where it has one, else by the clipboard; a person who calls it off is not told off.
  async function handOver(text) {
    try {
      if (navigator.share !== undefined) await navigator.share({ text });
      else await navigator.clipboard.writeText(text).then(() => say("The summary is on the clipboard."));
    } catch (error) {
      if (error.name !== "AbortError") say("This browser did not hand the summary over. The sheet will carry it.", "wrong");
    }
  }

  // A signature binds every entry that is kept when it is given, by the digests of their lines.
  async function sign(name, strokes) {
    if (!(await leave())) return;
    const of = await capture.digestOf(page);
    const body = { at: capture.now(), strokes, of };
    if (name !== "") body.name = name;
    if (await write([{ kind: "signature.add", base: {}, body }])) draw();
  }

  // One point of the trace: the readings as they stand, so many seconds after the test began.
  async function log() {
    const tapped = Date.parse(capture.now());
    screen.taken();
    if (!(await leave())) return;
    const test = testOf(page, step.role);
    const kept = (page.visit.tests ?? []).find((one) => one.id === test?.id);
    const read = Object.entries(kept?.readings ?? {}).filter(([name]) => TRACED.includes(name));
    if (read.length === 0) return say("There is no vent, pressure or return air to log yet.");
    const s = Math.round((tapped - Date.parse(kept.at)) / 1000);
    const points = [{ s, ...Object.fromEntries(read) }];
    if (await write([{ kind: "trace.add", base: {}, body: { test: kept.id, points } }])) screen.refresh();
    return undefined;
  }

  const actions = {
    ...photoActions({ page, capture, outbox: desk.outbox, write, stored, failed, say, refresh: () => screen.refresh() }),
    failed,
    log,
    mend,
    sign,
    handOver,
    settle,
    rulebook,
    device: desk.device,
    go: async (next) => (await leave()) && go(id, next),
    home: async () => (await leave()) && go(null),
    confirm: async (cautions) => (await write(confirmed(cautions))) && draw(),
    takeOver: async (what) => {
      if (!(await leave()) || page.offers[what] === null) return;
      const body = { [what]: page.offers[what].missing };
      if (await write([{ kind: "visit.set", base: baseOf(page, body, rulebook.kinds), body }])) {
        await look();
        draw();
      }
    },
    takeDays: async (instruments) => {
      const body = { instruments };
      if ((await leave()) && (await write([{ kind: "visit.set", base: baseOf(page, body, rulebook.kinds), body }]))) draw();
    },
    markHealthy: async (healthy) => {
      if (!(await leave())) return;
      try {
        await identify(capture.newId);
        const { test, vehicle } = page.mark;
        stored(await capture.writeBeside([{ kind: "baseline.mark", base: {}, body: { vehicle, visit: id, test, healthy } }]));
        await look();
        draw();
      } catch (error) {
        failed(error);
      }
    },
    finish: async () => {
      if (!(await leave())) return;
      await identify(capture.newId);
      const ended = capture.now();
      if (await write([setting("/ended_at", { ended_at: ended }), await verdictShown()])) go(null);
    },
    // Nothing is left of the page either, or leaving it would write the visit anew.
    removeErased: async () => {
      keeper.settled();
      try {
        await capture.removeErased(page);
        await go(null);
        say("The visit was removed from this phone.");
      } catch (error) {
        failed(error);
      }
    },
    setAside: async () => {
      if (!(await leave())) return;
      if (await write([{ kind: "visit.void", base: {}, body: { reason: "set aside on the phone" } }])) go(null);
    },
  };

  function draw() {
    if (shut.closed) return;
    screen = visitScreen(places, { page, step, tools: { ...tools, step }, actions });
  }

  await look(near);
  const ticking = setInterval(() => {
    clocks.watch(performance.now(), desk.seen());
    screen?.tick();
  }, TICK_MS);

  draw();
  return {
    id,
    renew,
    show: (next) => {
      step = stepOf(next);
      draw();
    },
    leave,
    flush: keeper.flush,
    dirty: () => hasDraft(page.draft),
    close: () => {
      clearInterval(ticking);
      shut.closed = true;
    },
  };
}
