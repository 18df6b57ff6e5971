// What closes a visit: the customer's signature, the mark of a healthy test, the summary, its end, setting it aside.
// It draws nothing; a signature and a verdict are bound to what a person saw, by digests of it.

import { assess, shown_text } from "../kernel.js";
import { boundBy } from "../form/signed.js";
import { say } from "../language/words.js";
import { sha256Hex } from "../sync/op_line.js";
import { backTo, signedVisit } from "./signed.js";

/**
 * Hands a text over by the phone's own way of sharing where it has one, else by the clipboard; cancelling
 * is not an error.
 *
 * @param {string} text
 * @param {Tell} tell
 */
async function handOver(text, tell) {
  try {
    if (navigator.share !== undefined) await navigator.share({ text });
    else {
      await navigator.clipboard.writeText(text);
      tell(say("phone.visit.copied"));
    }
  } catch (error) {
    if (/** @type {Error} */ (error).name === "AbortError") return;
    tell(say("phone.visit.not_shared"), "wrong");
  }
}

/**
 * @param {OpenVisit} open
 * @param {PageWriter} writer
 * @param {Notebook} notebook
 */
function signActions(open, { leave, write }, { capture, rulebook }) {
  const { page } = open;

  // A signature binds every entry that is kept when it is given, by the digests of their lines.
  /** @param {string} name @param {number[][]} strokes */
  async function sign(name, strokes) {
    if (!(await leave())) return;
    const of = await capture.digestOf(page);
    const bound = boundBy(page.visit, rulebook);
    const body = { at: capture.now(), strokes, of, ...bound, ...(name === "" ? {} : { name }) };
    if (await write([{ kind: "signature.add", base: {}, body }])) open.draw();
  }

  // The bill as it was when it was signed.
  async function goBack() {
    if (!(await leave())) return;
    const then = signedVisit(page, rulebook.kinds);
    const bodies = then === null ? [] : backTo(page, then, rulebook.kinds, capture.newId);
    if (bodies.length > 0 && (await write(bodies))) open.draw();
  }

  return { sign, goBack };
}

/**
 * @param {OpenVisit} open
 * @param {{writer: PageWriter, cards: OpenCards, timers: OpenTimers}} parts
 * @param {Notebook} notebook
 */
export function sealActions(open, { writer, cards, timers }, notebook) {
  const { page } = open;
  const { capture, rulebook, go, tell, version } = notebook;
  const { leave, write, stored, tried } = writer;

  // The verdict as it stands on the screen, by its digest: the sheet says so when it comes to another.
  async function verdictShown() {
    const digest = await sha256Hex(shown_text(assess(page.visit, rulebook, version)));
    const body = { rulebook: rulebook.hash, app: version, at: capture.now(), digest };
    return { kind: "verdict.shown", base: {}, body };
  }

  async function finish() {
    if (!(await leave())) return;
    await cards.identify(capture.newId);
    const base = { "/ended_at": page.heads["/ended_at"]?.[0] ?? null };
    const end = { kind: "visit.set", base, body: { ended_at: capture.now() } };
    if (!(await write([end, await verdictShown()]))) return;
    timers.clear();
    await go(null);
  }

  /** @param {boolean} healthy */
  async function markHealthy(healthy) {
    if (!(await leave())) return;
    await tried(async () => {
      await cards.identify(capture.newId);
      const { test, vehicle } = page.mark ?? {};
      const body = { vehicle, visit: page.id, test, healthy };
      stored(await capture.writeBeside([{ kind: "baseline.mark", base: {}, body }]));
      await cards.look();
      open.draw();
    });
  }

  async function setAside() {
    if (!(await leave())) return;
    const body = { reason: say("phone.visit.aside_reason") };
    if (!(await write([{ kind: "visit.void", base: {}, body }]))) return;
    timers.clear();
    await go(null);
  }

  /** @param {string} text */
  const handOverText = (text) => handOver(text, tell);

  return { ...signActions(open, writer, notebook), finish, markHealthy, setAside, handOver: handOverText };
}
