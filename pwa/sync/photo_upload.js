// Carries photos to the desk, a piece at a time, and deletes their bytes once the desk has said twice that it has them.
// No store and no fetch of its own: both are handed in; texts are sent by client.js beforehand.

import { sha256Hex } from "./op_line.js";

const PIECE = 256 * 1024;
const MOST_TURNS = 4;
const MOST_REVIEWED = 40;

// How long a photo stays here after the desk first had it whole. The phone's own rule: after that, once the photo's
// entry is filed and the desk says again that it holds every byte, the bytes go; the small picture stays.
export const KEPT_MS = 7 * 24 * 3600 * 1000;

/**
 * The desk's reasons to refuse a photo for good; anything else is tried again.
 *
 * @type {Record<number, string>}
 */
const REFUSALS = { 413: "photo_too_large", 415: "photo_no_picture" };

/** @param {Response} response @param {string} name */
const header = (response, name) => Number(response.headers.get(name) ?? "0");

/**
 * @typedef {object} Way to the desk
 * @property {(request: DeskRequest) => Promise<Response>} reach
 * @property {(status: number) => Error} refusal
 */

/** How much of a photo the desk has [bytes], and whether that is all. @param {Way} way @param {string} sha256 */
async function atDesk({ reach, refusal }, sha256) {
  const response = await reach({ url: `/blobs/${sha256}`, method: "HEAD" });
  if (response.status === 404) return { bytes: 0, whole: false };
  if (!response.ok) throw refusal(response.status);
  const bytes = header(response, "Upload-Offset");
  return { bytes, whole: bytes > 0 && bytes === header(response, "Upload-Length") };
}

/**
 * Sends a piece. A wrong offset is answered with the true one, a mismatch of the hash with a fresh start.
 *
 * @param {Way} way
 * @param {Photo} photo
 * @param {number} from [bytes]
 * @returns {Promise<{next: number, turned: boolean} | {refused: string}>} the next offset, or why it is refused
 */
async function sendPiece({ reach, refusal }, photo, from) {
  const body = photo.bytes.slice(from, from + PIECE);
  const headers = {
    "Content-Type": "application/offset+octet-stream",
    "Upload-Offset": String(from),
    "Upload-Length": String(photo.bytes.byteLength),
  };
  const response = await reach({ url: `/blobs/${photo.sha256}`, method: "PATCH", headers, body });
  if (response.ok) return { next: header(response, "Upload-Offset"), turned: false };
  if (response.status === 409) return { next: header(response, "Upload-Offset"), turned: true };
  if (response.status === 422) return { next: 0, turned: true };
  const refused = REFUSALS[response.status];
  if (refused !== undefined) return { refused };
  throw refusal(response.status);
}

/**
 * Does everything that can be done for a photo now.
 *
 * @param {Way} way
 * @param {Photo} photo
 * @param {() => number} clock
 * @returns {Promise<Partial<Slip> | null>} what changes on its slip; null where it stays as it is
 */
async function carryOne(way, photo, clock) {
  if ((await sha256Hex(photo.bytes)) !== photo.sha256) return { state: "refused", reason: "photo_damaged" };
  const { bytes, whole } = await atDesk(way, photo.sha256);
  if (whole) return { state: "held", held_at: clock() };
  let from = bytes;
  let turns = 0;
  while (from < photo.bytes.byteLength) {
    const answer = await sendPiece(way, photo, from);
    if ("refused" in answer) return { state: "refused", reason: answer.refused };
    if (answer.turned || !(answer.next > from)) turns += 1;
    if (turns > MOST_TURNS) return null;
    from = answer.next;
  }
  return { state: "held", held_at: clock() };
}

/** @param {Way & {outbox: Outbox, clock: () => number}} parts */
export function createPhotoUpload({ outbox, clock, ...way }) {
  return {
    // Every waiting photo, oldest first; one that doesn't get through holds up no others.
    /** @param {Progress} progress */
    carry: async (progress) => {
      for (const slip of await outbox.slipsIn("waiting")) {
        const photo = await outbox.photo(slip.sha256);
        if (photo === undefined) continue;
        const change = await carryOne(way, photo, clock);
        if (change === null) continue;
        await outbox.markPhoto(slip.sha256, change);
        progress.photos += 1;
      }
    },

    /**
     * Asks the desk again for photos it is said to hold: what it lost is to go again, what is old enough here may go.
     *
     * @param {boolean} whole also those that are not old enough
     * @returns how many wait again
     */
    review: async (whole) => {
      const now = clock();
      /** @param {Slip} slip */
      const heldAt = (slip) => slip.held_at ?? NaN;
      /** @param {Slip} slip */
      const due = (slip) => !(now - heldAt(slip) < KEPT_MS);
      const slips = (await outbox.slipsIn("held")).filter((slip) => heldAt(slip) < now && (whole || due(slip)));
      slips.sort((one, other) => (one.checked_at ?? 0) - (other.checked_at ?? 0));
      let lost = 0;
      for (const slip of slips.slice(0, MOST_REVIEWED)) {
        const { whole: safe } = await atDesk(way, slip.sha256);
        if (!safe) {
          lost += 1;
          await outbox.markPhoto(slip.sha256, { state: "waiting" });
        } else if (due(slip) && (await outbox.releasePhoto(slip.sha256))) continue;
        else await outbox.markPhoto(slip.sha256, { checked_at: now });
      }
      return lost;
    },
  };
}
