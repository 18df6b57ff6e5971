// Carrying by hand: the parts that were written, and the way to read the desk's receipts.
// DOM only: parts are handed in as files, a receipt that was chosen is handed on as text.

import { button, el } from "./elements.js";
import { counted } from "./words.js";

/** @type {Record<string, string>} */
const RECEIPT_FAULTS = {
  no_receipt: "This is no receipt of the desk. Choose the file that ends in -receipt.txt.",
  other_device: "This receipt is for another phone. Nothing was changed.",
};

/** @param {number} bytes */
const mb = (bytes) => `${(bytes / 1e6).toFixed(1)} MB`;

/** What one receipt changed, in words. @param {ReceiptReading} said @param {number} matched */
export function receiptWords(said, matched) {
  if (said.fault !== null) return RECEIPT_FAULTS[said.fault];
  /** @param {Result["status"][]} statuses */
  const of = (statuses) => said.results.filter((result) => statuses.includes(result.status)).length;
  const parts = [`${counted(of(["accepted", "conflict"]), "entry", "entries")} filed`];
  if (of(["rejected"]) > 0) parts.push(`${of(["rejected"])} refused`);
  if (of(["deferred"]) > 0) parts.push(`${of(["deferred"])} waiting for others`);
  const photos = new Map(said.photos.map((photo) => [photo.sha256, photo.kept]));
  const kept = [...photos.values()].filter(Boolean).length;
  if (photos.size > 0) parts.push(`${kept} of ${counted(photos.size, "photo", "photos")} kept`);
  const lines = [`${parts.join(", ")}.`];
  if (said.damaged > 0) lines.push(`${counted(said.damaged, "line was", "lines were")} damaged on the way to the desk; what stood there keeps waiting. Carry the file over again.`);
  if (said.lost > 0 || !said.whole) lines.push("The receipt was damaged on its way back; what could be read was taken. Read it again from the desk's computer.");
  if (matched < said.results.length) lines.push(`${counted(said.results.length - matched, "answer is", "answers are")} for nothing on this phone.`);
  return lines.join(" ");
}

/** @param {BundleFile} part @param {number} place @param {number} parts */
function partRow({ name, size, url }, place, parts) {
  return el("li", null, el("a", { href: url, download: name }, `Part ${place + 1} of ${parts}`), ` ${mb(size)}`);
}

/** @param {Places} places @param {CarryPage} page */
export function carryScreen(places, { parts, share, readReceipts, write, home }) {
  const answer = el("div", { class: "receipts", role: "status" });
  const choose = el("input", {
    type: "file", id: "receipts", class: "receipt-files", accept: ".txt,text/plain", multiple: true,
    on: {
      change: async () => {
        const words = await readReceipts([...choose.files]);
        answer.replaceChildren(...words.map((line) => el("p", null, line)));
        choose.value = "";
      },
    },
  });
  const written = parts.length === 0
    ? [el("p", { class: "meaning" }, "Nothing written yet.")]
    : [
      el("p", { class: "meaning" }, "Each part stands for itself; the order does not matter. Everything stays on this phone until the desk has answered."),
      el("ol", { class: "parts" }, parts.map((part, place) => partRow(part, place, parts.length))),
      share === null ? null : button("Share all parts", share, { class: "quiet" }),
    ];
  places.head.replaceChildren(el("div", { class: "headline" }, el("div", null, el("p", { class: "context" }, "without a network"), el("h1", null, "By hand")), el("a", { class: "way", href: "/" }, "The day")));
  places.index.hidden = true;
  places.page.className = "settings";
  places.page.replaceChildren(...[
    el("h2", null, "To the desk"), ...written,
    el("div", { class: "ways" }, button("Write what waits", () => write(false), { class: "quiet" }), button("Write everything", () => write(true), { class: "quiet" })),
    el("h2", null, "Back from the desk"),
    el("p", { class: "meaning" }, "The desk leaves a receipt beside each part. Bring the receipts here, then choose them."),
    el("div", { class: "field" }, el("label", { for: "receipts" }, "Receipts of the desk"), choose), answer,
  ].filter((part) => part !== null));
  places.foot.replaceChildren(button("Back to the day", home, { class: "main" }), places.status);
}
