// Carrying by hand: the parts that were written, and the way to read the desk's receipts.
// DOM only: parts are handed in as files, a receipt that was chosen is handed on as text.

import { button, el, replace, showHead } from "./elements.js";
import { helpKey } from "./help.js";
import { counted } from "./words.js";

/** @type {Record<string, string>} */
const RECEIPT_FAULTS = {
  no_receipt: "This is no receipt of the desk. Choose the file that ends in -receipt.txt.",
  other_device: "This receipt is for another phone. Nothing was changed.",
};

/** @param {number} bytes */
const mb = (bytes) => `${(bytes / 1e6).toFixed(1)} MB`;

const CARRY_AGAIN = "damaged on the way to the desk; what stood there keeps waiting. Carry the file over again.";

const READ_AGAIN =
  "The receipt was damaged on its way back; what could be read was taken. Read it again from the desk's computer.";

/** What one receipt changed, in words. @param {ReceiptReading} receipt @param {number} matched */
export function receiptWords(receipt, matched) {
  if (receipt.fault !== null) return RECEIPT_FAULTS[receipt.fault];
  /** @param {Result["status"][]} statuses */
  const of = (statuses) => receipt.results.filter((result) => statuses.includes(result.status)).length;
  const parts = [`${counted(of(["accepted", "conflict"]), "entry", "entries")} filed`];
  if (of(["rejected"]) > 0) parts.push(`${of(["rejected"])} refused`);
  if (of(["deferred"]) > 0) parts.push(`${of(["deferred"])} waiting for others`);
  const photos = new Map(receipt.photos.map((photo) => [photo.sha256, photo.kept]));
  const count = [...photos.values()].filter(Boolean).length;
  if (photos.size > 0) parts.push(`${count} of ${counted(photos.size, "photo", "photos")} kept`);
  const lines = [`${parts.join(", ")}.`];
  if (receipt.damaged > 0) lines.push(`${counted(receipt.damaged, "line was", "lines were")} ${CARRY_AGAIN}`);
  if (receipt.lost > 0 || !receipt.whole) lines.push(READ_AGAIN);
  const unmatched = receipt.results.length - matched;
  if (unmatched > 0) lines.push(`${counted(unmatched, "answer is", "answers are")} for nothing on this phone.`);
  return lines.join(" ");
}

/** @param {BundleFile} part @param {number} place @param {number} parts */
function partRow({ name, size, url }, place, parts) {
  return el("li", null, el("a", { href: url, download: name }, `Part ${place + 1} of ${parts}`), ` ${mb(size)}`);
}

const BRING_RECEIPTS = "The desk leaves a receipt beside each part. Bring the receipts here, then choose them.";

const EACH_PART =
  "Each part stands for itself; the order does not matter. Everything stays on this phone until the desk has answered.";

/** @param {Pick<CarryPage, "parts" | "share">} page */
function partsWritten({ parts, share }) {
  if (parts.length === 0) return [el("p", { class: "meaning" }, "Nothing written yet.")];
  return [
    el("p", { class: "meaning" }, EACH_PART),
    el("ol", { class: "parts" }, parts.map((part, place) => partRow(part, place, parts.length))),
    share && button("Share all parts", share, { class: "quiet" }),
  ];
}

/** @param {Places} places @param {CarryPage} page */
export function carryScreen(places, { parts, share, readReceipts, write, home }) {
  const answer = el("div", { class: "receipts", role: "status" });
  const choose = el("input", {
    type: "file", id: "receipts", class: "receipt-files", accept: ".txt,text/plain", multiple: true,
  });
  choose.addEventListener("change", async () => {
    const words = await readReceipts([...(choose.files ?? [])]);
    answer.replaceChildren(...words.map((line) => el("p", null, line)));
    choose.value = "";
  });
  const context = el("p", { class: "context" }, "without a network");
  showHead(places, context, el("h1", null, "By hand"), el("a", { class: "way", href: "/" }, "The day"));
  places.index.hidden = true;
  places.page.className = "settings";
  const waiting = button("Write what waits", () => write(false), { class: "quiet" });
  const everything = button("Write everything", () => write(true), { class: "quiet" });
  replace(
    places.page,
    el("h2", null, "To the desk"), ...partsWritten({ parts, share }),
    el("div", { class: "ways" }, waiting, everything, helpKey("key", "carry_by_hand")),
    el("h2", null, "Back from the desk"),
    el("p", { class: "meaning" }, BRING_RECEIPTS),
    el("div", { class: "field" }, el("label", { for: "receipts" }, "Receipts of the desk"), choose), answer,
  );
  places.foot.replaceChildren(button("Back to the day", home, { class: "main" }), places.status);
}
