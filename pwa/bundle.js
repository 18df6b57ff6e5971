// Writes what waits on the phone as a text file that can be carried to the desk by hand.
// Pure but for the hash: it reads no store and offers no download; the frame is the desk's hand-carry format.

import { lineOf, sha256Hex } from "./opline.js";

// One part holds everything: `layby-bundle 1 <device> 1/1`, the op lines, `end <lines> <sha256 of the op lines>`.
export async function bundleOf(device, records) {
  const lines = records.map(lineOf).join("");
  return `layby-bundle 1 ${device} 1/1\n${lines}end ${records.length} ${await sha256Hex(lines)}\n`;
}
