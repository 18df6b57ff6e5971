// Carries op lines to the desk and brings back what the desk says of them.
// fetch only: it decides nothing about a visit, and nothing leaves the outbox but by a result that matches.

import { bytesOf, lineOf } from "./opline.js";
import { createPhotoPost } from "./photopost.js";

const MOST_LINES = 50;
const MOST_BYTES = 512 * 1000;
const PATIENCE_MS = 30_000;

// code: not_reached | not_paired | too_large | desk_full | desk_fault | not_understood; `status` where there was an answer.
export class CourierFault extends Error {
  constructor(code, status = null, cause = undefined) {
    super(code, { cause });
    this.code = code;
    this.status = status;
  }
}

const CODE_OF_STATUS = { 401: "not_paired", 413: "too_large", 507: "desk_full" };

// The desk's answer, whatever its status.
async function reach(request) {
  try {
    return await fetch(request.url, { ...request, cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
  } catch (error) {
    throw new CourierFault("not_reached", null, error);
  }
}

const refusal = (status) => new CourierFault(CODE_OF_STATUS[status] ?? "desk_fault", status);

async function answerOf(request) {
  const response = await reach(request);
  if (!response.ok) throw refusal(response.status);
  try {
    return await response.json();
  } catch (error) {
    throw new CourierFault("not_understood", response.status, error);
  }
}

// The rulebook as the desk serves it and the worker keeps it; the page does not start without one.
export async function rulebookOfPage() {
  const response = await fetch("/rulebook.json");
  if (!response.ok) throw new CourierFault("desk_fault", response.status);
  return response.json();
}

// As many of the operations, from the first, as fit one request.
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

// `send(whole)` carries everything that waits, once, and then checks the receipts, all of them when `whole`:
// - one runner at a time over all tabs (a Web Lock); a second call resolves with null, unless `whole`: that one waits;
// - texts go first, then what others did comes, then photos go: a photo never holds an entry back;
// - it resolves with {sent, returned, photos, changed, fault}: `changed` are the visits that others changed,
//   `fault` is null or the CourierFault that stopped it;
// - a deferred operation is tried once a run and holds up nobody behind it;
// - it rejects only when the outbox itself fails.
export function createCourier({ outbox, device, hear, clock = () => Date.now(), onProgress = () => undefined }) {
  let mostLines = MOST_LINES;

  async function post(records) {
    const lines = batchOf(records, mostLines);
    try {
      const body = lines.join("");
      const answer = await answerOf({ url: "/sync", method: "POST", headers: { "Content-Type": "application/x-ndjson" }, body });
      return { tried: lines.length, results: answer.results ?? [] };
    } catch (error) {
      if (error.code !== "too_large") throw error;
      if (lines.length === 1) return { tried: 1, results: [] };
      mostLines = Math.max(1, Math.floor(lines.length / 2));
      return { tried: 0, results: [] };
    }
  }

  const photoPost = createPhotoPost({ outbox, reach, refusal, clock, onProgress });
  let checkedOnce = false;

  async function carry(progress) {
    let after = 0;
    for (;;) {
      const records = await outbox.pending(after, MOST_LINES);
      if (records.length === 0) return;
      const { tried, results } = await post(records);
      if (tried === 0) continue;
      progress.first ??= records[0].seq;
      progress.sent += await outbox.settle(results, clock());
      after = records[tried - 1].seq;
      onProgress();
    }
  }

  // Everything at the first run and when a person asks, else only what this run has sent.
  async function check(progress, whole) {
    if (!whole && checkedOnce && progress.first === undefined) return;
    const after = whole || !checkedOnce ? 0 : progress.first - 1;
    const upTo = await outbox.lastSeq();
    for (let from = after; from !== null; ) {
      const { receipts, next = null } = await answerOf({ url: `/receipts?device=${device}&after=${from}`, method: "GET" });
      progress.returned += await outbox.verify(from, next ?? upTo, receipts);
      from = next;
    }
    checkedOnce = true;
    onProgress();
  }

  // What others did, an answer at a time; a cursor that the desk does not know is forgotten, and all is told again.
  async function listen(progress) {
    for (let more = true; more; ) {
      const cursor = (await outbox.recall("changes_cursor")) ?? "";
      try {
        const answer = await answerOf({ url: `/changes?device=${device}&after=${encodeURIComponent(cursor)}`, method: "GET" });
        if (answer.changes.length > 0 || answer.cursor !== cursor) progress.changed.push(...(await hear(answer)));
        more = answer.more && (await outbox.recall("changes_cursor")) === answer.cursor;
      } catch (error) {
        if (error.status !== 400 || cursor === "") throw error;
        await outbox.remember("changes_cursor", "");
      }
    }
  }

  async function run(whole) {
    const progress = { sent: 0, returned: 0, photos: 0, changed: [], fault: null, first: undefined };
    try {
      await carry(progress);
      await check(progress, whole);
      await listen(progress);
      await photoPost.carry(progress);
      await photoPost.review(whole);
    } catch (error) {
      if (!(error instanceof CourierFault)) throw error;
      progress.fault = error;
    }
    mostLines = MOST_LINES;
    return progress;
  }

  // By itself a send gives way to one that is under way; asked for by a person, it waits its turn.
  const alone = (work, patient) =>
    navigator.locks === undefined
      ? work()
      : navigator.locks.request("layby-courier", { ifAvailable: !patient }, (lock) => (lock === null ? null : work()));
  return { send: (whole = false) => alone(() => run(whole), whole) };
}
