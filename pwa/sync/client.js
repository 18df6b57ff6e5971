// Carries op lines to the desk and brings back what the desk says about them.
// fetch only: it decides nothing about a visit, and nothing leaves the outbox without a matching result.

import { bytesOf, lineOf } from "./op_line.js";
import { createPhotoUpload } from "./photo_upload.js";

const MOST_LINES = 50;
const MOST_BYTES = 512 * 1000;
const PATIENCE_MS = 30_000;

// code: not_reached | not_paired (no desk yet) | shut_out (the desk no longer knows this phone) | wrong_code |
// digits_void | already_paired | too_large | desk_full | desk_fault | not_understood; `status` where one was answered.
export class ClientFault extends Error {
  /** @param {string} code @param {number | null} [status] @param {unknown} [cause] */
  constructor(code, status = null, cause = undefined) {
    super(code, { cause });
    this.code = code;
    this.status = status;
  }
}

/** @type {Record<number, string>} */
const CODE_OF_STATUS = {
  401: "shut_out", 403: "wrong_code", 409: "already_paired", 410: "digits_void", 413: "too_large", 507: "desk_full",
};

/**
 * What this page shows the desk; read again from the outbox at each run, as another tab may have paired this phone.
 *
 * @type {string | null}
 */
let token = null;

/** The desk's answer, whatever its status. @param {DeskRequest} request */
async function reach(request) {
  const headers = token === null ? request.headers : { ...request.headers, Authorization: `Bearer ${token}` };
  const signal = AbortSignal.timeout(PATIENCE_MS);
  try {
    return await fetch(request.url, { ...request, headers, cache: "no-store", signal });
  } catch (error) {
    throw new ClientFault("not_reached", null, error);
  }
}

/** @param {number} status */
const refusal = (status) => new ClientFault(CODE_OF_STATUS[status] ?? "desk_fault", status);

/** @param {DeskRequest} request @returns {Promise<any>} */
async function answerOf(request) {
  const response = await reach(request);
  if (!response.ok) throw refusal(response.status);
  try {
    return await response.json();
  } catch (error) {
    // Cut off midway, it is no more an answer than one that never came; what isn't JSON is somebody else's.
    if (!(error instanceof SyntaxError)) throw new ClientFault("not_reached", null, error);
    throw new ClientFault("not_understood", response.status, error);
  }
}

/**
 * Shows the desk a code, once, and the token of this phone's pairing where it has one: without it the desk gives nobody
 * the id of a phone that it knows.
 *
 * @param {{code: string, device: string, name: string, shown?: string}} phone
 * @returns {Promise<Omit<Desk, "origin" | "shutOut">>} rejects with a ClientFault
 */
export function pairWith({ code, device, name, shown }) {
  token = shown ?? token;
  const body = JSON.stringify({ code, device, name });
  return answerOf({ url: "/pair", method: "POST", headers: { "Content-Type": "application/json" }, body });
}

/** A file of the page as the desk serves it and the worker keeps it. @param {string} path @returns {Promise<any>} */
async function fileOfPage(path) {
  const response = await fetch(path);
  if (!response.ok) throw new ClientFault("desk_fault", response.status);
  return response.json();
}

/** The rulebook; the page does not start without one. @returns {Promise<Rulebook>} */
export const rulebookOfPage = () => fileOfPage("/rulebook.json");

/**
 * The words of a language, with its tag in them; with the desk out of reach, those that the worker keeps.
 *
 * @param {string} tag
 * @returns {Promise<WordTree & {language: string}>}
 */
export const wordsOfPage = (tag) => fileOfPage(`/words/${tag}.json`);

/** As many of the operations, from the first, as fit one request. @param {Line[]} records @param {number} mostLines */
export function batchOf(records, mostLines) {
  const lines = [];
  let bytes = 0;
  for (const record of records.slice(0, mostLines)) {
    const line = lineOf(record);
    bytes += bytesOf(line);
    if (lines.length > 0 && bytes > MOST_BYTES) break;
    lines.push(line);
  }
  return lines;
}

/**
 * Takes what waits to the desk, a batch at a time.
 *
 * @param {{outbox: Outbox, clock: () => number}} parts
 */
function createLineUpload({ outbox, clock }) {
  let mostLines = MOST_LINES;

  /** @param {Line[]} records @returns {Promise<{tried: number, results: Result[]}>} */
  async function post(records) {
    const lines = batchOf(records, mostLines);
    try {
      const headers = { "Content-Type": "application/x-ndjson" };
      const answer = await answerOf({ url: "/sync", method: "POST", headers, body: lines.join("") });
      return { tried: lines.length, results: answer.results ?? [] };
    } catch (error) {
      if (/** @type {CodedError} */ (error).code !== "too_large") throw error;
      if (lines.length === 1) return { tried: 1, results: [] };
      mostLines = Math.max(1, Math.floor(lines.length / 2));
      return { tried: 0, results: [] };
    }
  }

  return {
    // A desk that found one parcel too large may take larger ones at the next run.
    reset: () => {
      mostLines = MOST_LINES;
    },

    /** @param {Progress} progress */
    carry: async (progress) => {
      let after = 0;
      for (;;) {
        const records = await outbox.pending(after, MOST_LINES);
        if (records.length === 0) return;
        const { tried, results } = await post(records);
        if (tried === 0) continue;
        progress.first ??= records[0].seq;
        progress.sent += await outbox.settle(results, clock());
        after = records[tried - 1].seq;
      }
    },
  };
}

/**
 * Compares the desk's receipts with what is filed here: everything at the first run and when a person asks, else only
 * what this run has sent.
 *
 * @param {{outbox: Outbox, device: string}} parts
 */
function createReceiptCheck({ outbox, device }) {
  let checkedOnce = false;

  /** @param {Progress} progress @param {boolean} whole */
  return async (progress, whole) => {
    const everything = whole || !checkedOnce;
    if (!everything && progress.first === undefined) return;
    const upTo = await outbox.lastSeq();
    /** @type {number | null} */
    let from = everything ? 0 : Number(progress.first) - 1;
    while (from !== null) {
      const answer = await answerOf({ url: `/receipts?device=${device}&after=${from}`, method: "GET" });
      progress.returned += await outbox.verify(from, answer.next ?? upTo, answer.receipts);
      from = answer.next ?? null;
    }
    checkedOnce = true;
  };
}

/**
 * What others did, an answer at a time; a cursor that the desk does not know is forgotten, and all is told again.
 *
 * @param {{outbox: Outbox, device: string, hear: Hear, signedAs: SignedAs}} parts
 */
const createChangeFeed = ({ outbox, device, hear, signedAs }) =>
  /** @param {Progress} progress */
  async (progress) => {
    for (let more = true; more; ) {
      const cursor = (await outbox.recall("changes_cursor")) ?? "";
      try {
        const url = `/changes?device=${device}&after=${encodeURIComponent(cursor)}`;
        /** @type {ChangesAnswer} */
        const answer = await answerOf({ url, method: "GET" });
        // Signed in as somebody else, this phone is told everything again.
        if (await signedAs(answer.person)) continue;
        if (answer.changes.length > 0 || answer.cursor !== cursor) progress.changed.push(...(await hear(answer)));
        more = answer.more && (await outbox.recall("changes_cursor")) === answer.cursor;
      } catch (error) {
        if (/** @type {CodedError} */ (error).status !== 400 || cursor === "") throw error;
        await outbox.remember("changes_cursor", "");
      }
    }
  };

/**
 * An automatic send gives way to one under way; one that a person asked for waits its turn.
 *
 * @template T
 * @param {() => Promise<T>} work
 * @param {boolean} patient
 * @returns {Promise<T | null>}
 */
function alone(work, patient) {
  if (navigator.locks === undefined) return work();
  return navigator.locks.request("layby-courier", { ifAvailable: !patient }, (lock) => (lock === null ? null : work()));
}

/**
 * `send(whole)` carries everything that waits, once, and then checks the receipts, all of them when `whole`:
 * - one runner at a time over all tabs (a Web Lock); a second call resolves with null, unless `whole`: that one waits;
 * - texts go first, then what others did comes, then photos go: a photo never holds an entry back;
 * - it resolves with its progress: `changed` are the visits that others changed, `fault` is null or the ClientFault
 *   that stopped it;
 * - without a desk to show a token to it asks nothing and its fault is `not_paired`; once a desk has answered 401 it is
 *   paused (`shut_out`) until this phone is paired again or a person asks, and nothing is cleared;
 * - a deferred operation is tried once a run and holds up nobody behind it;
 * - it rejects only when the outbox itself fails.
 *
 * @param {{outbox: Outbox, device: string, hear: Hear, signedAs: SignedAs, clock?: () => number}} parts
 */
export function createClient({ outbox, device, hear, signedAs, clock = () => Date.now() }) {
  const lineUpload = createLineUpload({ outbox, clock });
  const checkReceipts = createReceiptCheck({ outbox, device });
  const listen = createChangeFeed({ outbox, device, hear, signedAs });
  const photoUpload = createPhotoUpload({ outbox, reach, refusal, clock });

  /**
   * Only for the token that was shown: this phone may have been paired again meanwhile, here or in another tab.
   *
   * @param {string} shown
   * @param {boolean} shutOut
   */
  const markDesk = (shown, shutOut) =>
    outbox.amend("desk", (desk) => (desk?.token === shown ? { ...desk, shutOut } : desk));

  /** @param {Desk} desk @param {Progress} progress @param {boolean} whole */
  async function exchange(desk, progress, whole) {
    token = desk.token;
    await lineUpload.carry(progress);
    await checkReceipts(progress, whole);
    // A desk that lost something gets it back at once.
    if (progress.returned > 0) await lineUpload.carry(progress);
    await listen(progress);
    if (desk.shutOut) await markDesk(desk.token, false);
    await photoUpload.carry(progress);
    if ((await photoUpload.review(whole)) > 0) await photoUpload.carry(progress);
  }

  /** @param {boolean} whole @returns {Promise<Progress>} */
  async function run(whole) {
    /** @type {Progress} */
    const progress = { sent: 0, returned: 0, photos: 0, changed: [], fault: null, first: undefined };
    /** @type {Desk | undefined} */
    const desk = await outbox.recall("desk");
    try {
      if (desk === undefined) throw new ClientFault("not_paired");
      if (desk.shutOut && !whole) throw new ClientFault("shut_out");
      await exchange(desk, progress, whole);
    } catch (error) {
      if (!(error instanceof ClientFault)) throw error;
      if (error.status === 401 && desk !== undefined) {
        await markDesk(desk.token, true);
        // Paired again while this was under way.
        if ((await outbox.recall("desk"))?.token !== desk.token) return run(whole);
      }
      progress.fault = error;
    }
    lineUpload.reset();
    return progress;
  }

  return { send: (whole = false) => alone(() => run(whole), whole) };
}
