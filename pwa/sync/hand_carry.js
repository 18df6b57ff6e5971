// Carrying by hand, put together: what is kept becomes files, receipts become filed entries.
// It writes no markup and no line of a file itself, and nothing leaves the outbox without a matching receipt.

import { bundleParts } from "./bundle.js";
import { receiptWords } from "../form/carry.js";
import { say } from "../language/words.js";
import { isoLocal } from "./identity.js";
import { readReceipt } from "./receipt.js";

const MOST_CARRIED = 100_000;

/** @param {string} text @param {string} name @returns {BundleFile} */
function fileOf(text, name) {
  const file = new File([text], name, { type: "text/plain" });
  return { name, size: file.size, url: URL.createObjectURL(file), file };
}

/** @param {{outbox: Outbox, device: string, clock?: () => number}} parts */
export function createHandCarry({ outbox, device, clock = () => Date.now() }) {
  /** @type {BundleFile[]} */
  let parts = [];

  /**
   * The photos whose bytes are here: those that wait, and with `whole` also those that the desk holds already.
   *
   * @param {boolean} whole
   */
  async function* photosOf(whole) {
    const slips = [...(await outbox.slipsIn("waiting")), ...(whole ? await outbox.slipsIn("held") : [])];
    for (const { sha256 } of slips) {
      const photo = await outbox.photo(sha256);
      if (photo !== undefined) yield photo;
    }
  }

  /**
   * A photo that the desk has whole is held there, exactly as after the network's answer; nothing is deleted here.
   *
   * @param {ReceiptReading} reading
   */
  async function notePhotos(reading) {
    const digests = [...new Set(reading.photos.filter((photo) => photo.kept).map((photo) => photo.sha256))];
    for (const slip of await outbox.slips(digests)) {
      if (slip?.state === "waiting") await outbox.markPhoto(slip.sha256, { state: "held", held_at: clock() });
    }
  }

  /**
   * The parts as files; those written earlier are released.
   *
   * @param {boolean} whole every entry and photo, also those that are filed; else what waits
   */
  async function write(whole) {
    const records = whole ? await outbox.everyOp() : await outbox.pending(0, MOST_CARRIED);
    const texts = await bundleParts(device, records, photosOf(whole));
    for (const { url } of parts) URL.revokeObjectURL(url);
    const day = isoLocal(new Date(clock())).slice(0, 10);
    parts = texts.map((text, place) => {
      const which = texts.length === 1 ? "" : `-${place + 1}-of-${texts.length}`;
      return fileOf(text, `layby-${device}-${day}${which}.txt`);
    });
    return { parts, entries: records.length };
  }

  /** Takes receipts back in; for each file one line of words. @param {File[]} files */
  async function readReceipts(files) {
    const words = [];
    for (const file of files) {
      const reading = await readReceipt(await file.text(), device);
      const matched = reading.results.length === 0 ? 0 : await outbox.settle(reading.results, clock());
      await notePhotos(reading);
      words.push(say("phone.carry.of_file", { file: file.name, words: receiptWords(reading, matched) }));
    }
    return words;
  }

  return { write, readReceipts, parts: () => parts };
}
