// Writes what is kept on the phone as text files, in parts small enough for a mail, to be carried to the desk by hand.
// It reads no store and offers no download; the frame is the desk's hand-carry format.

import { bytesOf, lineOf, sha256Hex } from "./op_line.js";

// Mail servers take 10 MB or more, some only 5; a 2 MB part grows by a third in transit (common practice, no source).
export const PART_BYTES = 2_000_000;
// Bytes of a photo in one line: a multiple of three, so that only the last line of a photo ends in padding.
const PIECE_BYTES = 48_000;
// The most that the head and the end of a part take.
const FRAME_BYTES = 200;

/** @param {Uint8Array} bytes */
function base64Of(bytes) {
  let text = "";
  for (let at = 0; at < bytes.length; at += 8192) text += String.fromCharCode(...bytes.subarray(at, at + 8192));
  return btoa(text);
}

/**
 * One photo as `blob <sha256> <offset> <base64>` lines.
 *
 * @param {Pick<Photo, "sha256" | "bytes">} photo
 */
export function blobLines({ sha256, bytes }) {
  const lines = [];
  for (let at = 0; at < bytes.byteLength; at += PIECE_BYTES) {
    lines.push(`blob ${sha256} ${at} ${base64Of(new Uint8Array(bytes.slice(at, at + PIECE_BYTES)))}\n`);
  }
  return lines;
}

/** @param {string} device @param {number} part @param {number} parts @param {string[]} lines */
async function framed(device, part, parts, lines) {
  const inner = lines.join("");
  return `layby-bundle 1 ${device} ${part}/${parts}\n${inner}end ${lines.length} ${await sha256Hex(inner)}\n`;
}

/**
 * The parts as texts: first the op lines, then the photos.
 * A part exceeds `most` bytes only if one photo alone does: the desk keeps a photo only from parts given together.
 *
 * @param {string} device
 * @param {Line[]} records
 * @param {Iterable<Photo> | AsyncIterable<Photo>} [photos]
 * @param {number} [most]
 */
export async function bundleParts(device, records, photos = [], most = PART_BYTES) {
  /** @type {string[]} */
  let part = [];
  const parts = [part];
  let room = most - FRAME_BYTES;
  /** @param {string[]} lines @param {number} bytes */
  const put = (lines, bytes) => {
    if (bytes > room && part.length > 0) {
      part = [];
      parts.push(part);
      room = most - FRAME_BYTES;
    }
    part.push(...lines);
    room -= bytes;
  };
  for (const record of records) {
    const line = lineOf(record);
    put([line], bytesOf(line));
  }
  for await (const photo of photos) {
    const lines = blobLines(photo);
    put(lines, lines.reduce((sum, line) => sum + line.length, 0));
  }
  return Promise.all(parts.map((lines, place) => framed(device, place + 1, parts.length, lines)));
}
