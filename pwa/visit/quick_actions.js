// What the keys of the quick test do besides typing: cautions confirmed, the refrigerant named, usual settings taken.
// It draws nothing; what it writes are the operations that the steps of a visit write.

import { baseOf } from "./known_cards.js";
import { valueOf } from "./number_input.js";
import { fieldIn } from "./quick_step.js";
import { stepOf } from "./steps.js";
import { testOf, valueAt } from "./visit_model.js";
import { put } from "../kernel.js";

const ALTITUDE = "place.altitude_m";
// As many unfinished quick tests as a phone has at a time, by far.
const REMEMBERED = 50;

/**
 * What the place is set to, where the visit does not say and the phone remembers it.
 *
 * @param {Page} page
 * @param {Settings} settings
 * @param {Rulebook} rulebook
 * @returns {Tree}
 */
function placeOf(page, { altitude }, rulebook) {
  if (altitude === undefined || page.visit.place?.altitude_m !== undefined) return {};
  const read = valueOf(fieldIn(ALTITUDE, stepOf("customer", rulebook)), altitude, rulebook);
  if (read.fault !== undefined || read.value === null) return {};
  return { place: { altitude_m: read.value }, typed: { [ALTITUDE]: read.typed } };
}

/**
 * The settings of a test that are usually held, as far as the test does not say them.
 *
 * @param {Test} usual
 * @param {Test | undefined} test
 * @param {Step} step
 * @returns {Tree}
 */
export function unsaid(usual, test, step) {
  /** @type {Tree} */
  const body = {};
  for (const field of step.fields) {
    if (field.path === undefined || field.carried !== true) continue;
    const value = valueAt(usual, field.path);
    if (value !== undefined && value !== null && valueAt(test, field.path) === undefined) put(body, field.path, value);
  }
  return body;
}

/** @param {Page} page @param {Tree} body @param {Rulebook} rulebook @returns {OpBody[]} */
const visitSet = (page, body, { kinds }) =>
  (Object.keys(body).length === 0 ? [] : [{ kind: "visit.set", base: baseOf(page, body, kinds), body }]);

/**
 * The operations that record the usual settings in the tests that do not say theirs.
 *
 * @param {Page} page
 * @param {Test} usual
 * @param {Rulebook} rulebook
 * @returns {OpBody[]}
 */
function usualBodies(page, usual, rulebook) {
  return ["before", "after"].flatMap((role) => {
    const id = testOf(page, role)?.id;
    const kept = (page.visit.tests ?? []).find((one) => one.id === id);
    const body = kept === undefined ? {} : unsaid(usual, kept, stepOf(role, rulebook));
    if (Object.keys(body).length === 0) return [];
    const pointers = Object.keys(body.conditions).map((name) => `/tests/${id}/conditions/${name}`);
    const base = Object.fromEntries(pointers.map((pointer) => [pointer, page.heads[pointer]?.[0] ?? null]));
    return [{ kind: "reading.set", base, body: { id, ...body } }];
  });
}

/**
 * Where the day leads to with one tap, also after the phone slept.
 *
 * @param {string} id
 * @param {boolean} is
 * @param {Outbox} outbox
 */
async function noteQuick(id, is, outbox) {
  /** @type {string[]} */
  const ids = ((await outbox.recall("quick")) ?? []).filter((/** @type {string} */ one) => one !== id);
  await outbox.remember("quick", is ? [id, ...ids].slice(0, REMEMBERED) : ids);
}

/**
 * @param {OpenVisit} open
 * @param {PageWriter} writer
 * @param {Notebook} notebook
 */
export function quickActions(open, { leave, write, tried }, { capture, outbox, rulebook, settings, saveSettings }) {
  const { page } = open;
  return {
    /**
     * Cautions read, and with them what is in the car; one tap for both.
     *
     * @param {string[]} codes
     * @param {{refrigerant: string, refrigerant_text?: string} | null} vehicle null while that is still to be said
     */
    begin: async (codes, vehicle) => {
      const at = capture.now();
      if (!(await leave())) return;
      const confirmed = codes.map((code) => (
        { kind: "caution.confirm", base: {}, body: { id: capture.newId(), code, at } }
      ));
      const isNew = vehicle !== null && vehicle.refrigerant !== page.visit.vehicle?.refrigerant;
      const body = { ...(isNew && { vehicle }), ...placeOf(page, settings(), rulebook) };
      const bodies = [...visitSet(page, body, rulebook), ...confirmed];
      if (bodies.length > 0 && !(await write(bodies))) return;
      await tried(() => noteQuick(page.id, true, outbox));
      if (vehicle !== null) saveSettings({ ...settings(), refrigerant: vehicle.refrigerant });
      open.draw();
    },

    // The altitude goes into this visit once it has begun, and is remembered for the next.
    /** @param {Entry} entry */
    setAltitude: async (entry) => {
      const read = valueOf(fieldIn(ALTITUDE, stepOf("customer", rulebook)), entry, rulebook);
      if (read.fault !== undefined || read.value === null) return;
      saveSettings({ ...settings(), altitude: { text: entry.text, unit: entry.unit } });
      if (page.ops.length === 0) return;
      const body = { place: { altitude_m: read.value }, typed: { [ALTITUDE]: read.typed } };
      // What is typed goes first, so that this builds on what was there.
      if (await leave()) await write(visitSet(page, body, rulebook));
    },

    /** @param {string} quantity @param {string} unit for every reading from now on */
    setUnit: (quantity, unit) => saveSettings({ ...settings(), units: { ...settings().units, [quantity]: unit } }),

    // Only by its key: settings that are usual are not settings that were looked at.
    /** @param {Test} usual */
    asUsual: async (usual) => {
      const bodies = (await leave()) ? usualBodies(page, usual, rulebook) : [];
      if (bodies.length > 0 && (await write(bodies))) open.draw();
    },

    /** Writes what is typed as operations, as leaving a step does; the page stays. */
    keep: leave,

    /** To the steps of the visit, by which the day then goes as well. @param {() => unknown} go */
    inFull: async (go) => {
      await tried(() => noteQuick(page.id, false, outbox));
      await go();
    },
  };
}
