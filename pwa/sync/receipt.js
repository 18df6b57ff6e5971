// Reads the receipt file that the desk gives back for a hand-carried part.
// Pure but for the hash: it moves no entry; outbox.js does, by the same function as for the network's receipts.

import { sha256Hex } from "./op_line.js";

const HEAD = /^layby-receipt 1 ([0-9a-f]{4,64}|unknown) ([0-9]{1,4})\/([0-9]{1,4})$/;
const END = /^end ([0-9]{1,9}) ([0-9a-f]{64})$/;
const LINE = /^([0-9a-f]{64}) (.+)$/;

/** @param {string} line @returns {Promise<any>} */
async function entryOf(line) {
  const [, digest, json] = LINE.exec(line) ?? [];
  if (json === undefined || (await sha256Hex(json)) !== digest) return null;
  try {
    return JSON.parse(json);
  } catch (error) {
    if (error instanceof SyntaxError) return null;
    throw error;
  }
}

/**
 * What a receipt says to this phone.
 *
 * @param {string} text
 * @param {string} device
 * @returns {Promise<ReceiptReading>}
 */
export async function readReceipt(text, device) {
  const lines = text.replace(/^\ufeff/, "").split("\n").map((line) => line.replace(/\r$/, ""));
  while (lines.length > 0 && lines.at(-1)?.trim() === "") lines.pop();
  /** @type {ReceiptReading} */
  const reading = { fault: null, results: [], photos: [], damaged: 0, lost: 0, whole: false };
  const head = HEAD.exec(lines[0] ?? "");
  if (head === null) return { ...reading, fault: "no_receipt" };
  if (head[1] !== device && head[1] !== "unknown") return { ...reading, fault: "other_device" };
  const end = END.exec(lines.at(-1) ?? "");
  const inner = lines.slice(1, end === null ? undefined : -1);
  const digest = await sha256Hex(inner.map((line) => `${line}\n`).join(""));
  reading.whole = end !== null && Number(end[1]) === inner.length && end[2] === digest;
  for (const line of inner) sort(await entryOf(line), reading);
  return reading;
}

/** @param {any} entry @param {ReceiptReading} reading */
function sort(entry, reading) {
  if (entry === null || typeof entry !== "object") reading.lost += 1;
  else if (typeof entry.photo === "string") {
    reading.photos.push({ sha256: entry.photo, kept: entry.status === "accepted" });
  } else if (entry.status === "unreadable" || entry.problem?.code === "damaged") reading.damaged += entry.count ?? 1;
  else if (typeof entry.id === "string") reading.results.push(entry);
}
