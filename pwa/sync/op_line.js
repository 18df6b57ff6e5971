// Writes an operation down once, as the line that is kept, sent and filed: its JSON and the SHA-256 of those bytes.
// Nothing here sends or stores; the JSON is never written a second time.

const encoder = new TextEncoder();

// The largest operation a desk takes, in bytes of JSON.
export const OP_BYTES = 128 * 1024;

/** @param {string} text */
export const bytesOf = (text) => encoder.encode(text).length;

/** @param {string | ArrayBuffer} text @returns {Promise<string>} */
export async function sha256Hex(text) {
  const bytes = typeof text === "string" ? encoder.encode(text) : text;
  const sum = await crypto.subtle.digest("SHA-256", bytes);
  return Array.from(new Uint8Array(sum), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * {id, visit, seq, kind, at, json, digest} for one operation object; `json` is final from here on.
 *
 * @param {Op} op
 * @returns {Promise<Line>}
 */
export async function written(op) {
  const json = JSON.stringify(op);
  const digest = await sha256Hex(json);
  return { id: op.id, visit: op.visit, seq: op.seq, kind: op.kind, at: op.at, json, digest };
}

/**
 * The op line itself: what POST /sync, the hand-carried file and the journal hold.
 *
 * @param {Pick<Line, "digest" | "json">} record
 */
export const lineOf = (record) => `${record.digest} ${record.json}\n`;
