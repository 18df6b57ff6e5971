// What the keys within a step do: go on, log a point, confirm cautions, take over what is known, take a photo.
// It draws nothing and sends nothing; the picture is made by form/picture.js, the bytes are kept by capture.js.

import { pictureOf } from "../form/picture.js";
import { reachField } from "../form/reach.js";
import { faultWords } from "../form/words.js";
import { say } from "../language/words.js";
import { baseOf } from "./known_cards.js";
import { testOf } from "./visit_model.js";

const TRACED = ["vent_c", "low_kpa_g", "high_kpa_g", "return_air_c"];

/** @param {Page} page @param {Tree} body @param {Rulebook} rulebook @returns {OpBody} */
const visitSet = (page, body, rulebook) => ({ kind: "visit.set", base: baseOf(page, body, rulebook.kinds), body });

/**
 * That cautions were read.
 *
 * @param {string[]} codes
 * @param {Capture} capture
 * @returns {OpBody[]}
 */
export function confirmations(codes, capture) {
  const at = capture.now();
  return codes.map((code) => ({ kind: "caution.confirm", base: {}, body: { id: capture.newId(), code, at } }));
}

/** @param {string} test @param {TracePoint[]} points @returns {OpBody[]} */
const strikes = (test, points) =>
  points.map(({ s }) => ({ kind: "trace.strike", base: {}, body: { test, s } }));

/**
 * The log of a test's readings.
 *
 * @param {OpenVisit} open
 * @param {PageWriter} writer
 * @param {Notebook} notebook
 */
function logActions(open, { leave, write }, { capture, rulebook, tell, later, outbox }) {
  const { page } = open;
  /** The test of the step that is open. */
  const testNow = () => {
    const id = testOf(page, open.step.role)?.id;
    return (page.visit.tests ?? []).find((one) => one.id === id);
  };

  // One point of the trace: the readings as they stand, so many seconds after the test began. A second one that comes
  // too soon to be another stands for the first.
  async function log() {
    const tapped = Date.parse(capture.now());
    open.screen?.taken();
    if (!(await leave())) return null;
    const test = testNow();
    const readings = Object.entries(test?.readings ?? {}).filter(([name]) => TRACED.includes(name));
    if (test === undefined || readings.length === 0) {
      tell(say("phone.settling.nothing"));
      return null;
    }
    const s = Math.round((tapped - Date.parse(test.at)) / 1000);
    const point = { s, ...Object.fromEntries(readings) };
    const { one_entry_s: apart } = rulebook.checks_at_rest.settling;
    const meant = (test.trace ?? []).filter((one) => Math.abs(s - one.s) < apart);
    const added = { kind: "trace.add", base: {}, body: { test: test.id, points: [point] } };
    if (!(await write([...strikes(test.id, meant.filter((one) => one.s !== s)), added]))) return null;
    open.screen?.refresh();
    return { test: test.id, point };
  }

  /** @param {string} test @param {TracePoint[]} points */
  async function unlog(test, points) {
    if (await write(strikes(test, points))) open.screen?.refresh();
  }

  // A logger's file becomes entries of the log, once a person has said what its columns are.
  /** @param {File} file */
  async function readFile(file) {
    if (!(await leave())) return;
    const test = testNow();
    const parts = await later().catch(() => null);
    if (test === undefined || parts === null) {
      tell(say(test === undefined ? "phone.settling.nothing" : "phone.later"), "wrong");
      return;
    }
    await parts.openFile(file, {
      test, page, units: rulebook.units,
      known: await outbox.recall("loggers"),
      remember: (known) => outbox.remember("loggers", known),
      add: async (points) => {
        const isKept = await write([{ kind: "trace.add", base: {}, body: { test: test.id, points } }]);
        if (isKept) open.screen?.refresh();
        return isKept;
      },
    });
  }

  return { log, unlog, readFile };
}

/**
 * @param {OpenVisit} open
 * @param {{writer: PageWriter, cards: OpenCards}} parts
 * @param {Notebook} notebook
 */
export function stepActions(open, { writer, cards }, notebook) {
  const { page } = open;
  const { capture, rulebook, go } = notebook;
  const { leave, write } = writer;

  /** @param {{code: string}[]} cautions */
  async function confirm(cautions) {
    if (await write(confirmations(cautions.map(({ code }) => code), capture))) open.draw();
  }

  /** @param {"vehicle" | "customer"} what */
  async function takeOver(what) {
    const offer = (await leave()) ? (page.offers?.[what] ?? null) : null;
    if (offer === null || !(await write([visitSet(page, { [what]: offer.missing }, rulebook)]))) return;
    await cards.look();
    open.draw();
  }

  return {
    ...logActions(open, writer, notebook),
    confirm,
    takeOver,
    ...settingActions(open, writer, notebook),
    ...wayActions(open, leave, go),
  };
}

/**
 * What of the settings goes into the visit: the days of calibration, the name of the business.
 *
 * @param {OpenVisit} open
 * @param {PageWriter} writer
 * @param {Notebook} notebook
 */
function settingActions(open, { leave, write }, notebook) {
  const { page } = open;
  const { rulebook } = notebook;

  /** @param {Tree} instruments */
  async function takeDays(instruments) {
    if ((await leave()) && (await write([visitSet(page, { instruments }, rulebook)]))) open.draw();
  }

  // The name of the business heads this visit's sheet and, as a setting, that of every later one.
  /** @param {string} business */
  async function nameBusiness(business) {
    if (!(await leave())) return;
    const now = notebook.settings();
    notebook.saveSettings({ ...now, technician: { ...now.technician, business } });
    if (await write([visitSet(page, { technician: { business } }, rulebook)])) open.draw();
  }

  return { takeDays, nameBusiness };
}

/**
 * The ways to another step, to a field, to the day.
 *
 * @param {OpenVisit} open
 * @param {PageWriter["leave"]} leave
 * @param {Notebook["go"]} go
 */
function wayActions(open, leave, go) {
  const { id } = open.page;
  return {
    /** @param {string} slug */
    go: async (slug) => (await leave()) && go(id, slug),
    // Leads to a field of a step, or on the step at hand straight to it.
    /** @param {string} slug @param {string} name */
    reach: async (slug, name) => {
      if (slug !== open.step.slug) {
        if (!(await leave())) return;
        await go(id, slug);
      }
      reachField(name);
    },
    home: async () => (await leave()) && go(null),
  };
}

/**
 * @param {OpenVisit} open
 * @param {PageWriter} writer
 * @param {Notebook} notebook
 */
export function photoActions(open, { write, stored, failed }, { capture, outbox, tell }) {
  /** @param {string} role @param {Blob} file */
  async function keepOne(role, file) {
    tell(say("phone.photo.shrinking"));
    const instant = await capture.addPhoto(open.page, role, await pictureOf(file));
    if (instant === null) {
      tell(say("phone.photo.again"));
      return;
    }
    stored(instant);
    open.screen?.refresh();
  }
  return {
    /** @param {string} role @param {Blob[]} files */
    takePhotos: async (role, files) => {
      try {
        for (const file of files) await keepOne(role, file);
      } catch (error) {
        // What is written fits into far less room than a picture: the text goes on being kept.
        if (/** @type {CodedError} */ (error).code === "disk_full") tell(faultWords({ code: "photo_full" }), "wrong");
        else failed(error);
      }
    },
    /** @param {string} sha256 */
    strikePhoto: async (sha256) => {
      const strike = { kind: "item.strike", base: {}, body: { list: "photos", id: sha256 } };
      if (await write([strike])) open.screen?.refresh();
    },
    /** @param {string[]} names */
    slips: (names) => outbox.slips(names),
  };
}
