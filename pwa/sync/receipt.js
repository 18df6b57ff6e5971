// Reads the receipt file that the desk gives back for a hand-carried part.
// Pure but for the hash: it moves no entry; outbox.js does, by the same function as for the network's receipts.

import { sha256Hex } from "./op_line.js";

const HEAD = /^layby-receipt 1 ([0-9a-f]{4,64}|unknown) ([0-9]{1,4})\/([0-9]{1,4})$/;
const END = /^end ([0-9]{1,9}) ([0-9a-f]{64})$/;
const LINE = /^([0-9a-f]{64}) (.+)$/;

async function told(line) {
  const found = LINE.exec(line);
  if (found === null || (await sha256Hex(found[2])) !== found[1]) return null;
  try {
    return JSON.parse(found[2]);
  } catch (error) {
    if (error instanceof SyntaxError) return null;
    throw error;
  }
}

// What a receipt says to this phone:
// {fault: null | "no_receipt" | "other_device", results, photos, damaged, lost, whole}
// - results: for `outbox.settle`; an entry that was damaged on its way is none, it keeps waiting and counts in `damaged`;
// - photos: [{sha256, kept}] for each photo, `kept` where the desk has it whole;
// - lost: lines of the receipt itself that do not read; whole: whether it came as the desk wrote it.
export async function readReceipt(text, device) {
  const lines = text.replace(/^\ufeff/, "").split("\n").map((line) => line.replace(/\r$/, ""));
  while (lines.length > 0 && lines.at(-1).trim() === "") lines.pop();
  const said = { fault: null, results: [], photos: [], damaged: 0, lost: 0, whole: false };
  const head = HEAD.exec(lines[0] ?? "");
  if (head === null) return { ...said, fault: "no_receipt" };
  if (head[1] !== device && head[1] !== "unknown") return { ...said, fault: "other_device" };
  const end = END.exec(lines.at(-1));
  const inner = lines.slice(1, end === null ? undefined : -1);
  said.whole = end !== null && Number(end[1]) === inner.length && (await sha256Hex(inner.map((line) => `${line}\n`).join(""))) === end[2];
  for (const line of inner) sort(await told(line), said);
  return said;
}

function sort(entry, said) {
  if (entry === null || typeof entry !== "object") said.lost += 1;
  else if (typeof entry.photo === "string") said.photos.push({ sha256: entry.photo, kept: entry.status === "accepted" });
  else if (entry.status === "unreadable" || entry.problem?.code === "damaged") said.damaged += 1;
  else if (typeof entry.id === "string") said.results.push(entry);
}
