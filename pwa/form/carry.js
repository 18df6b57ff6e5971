// Carrying by hand: the parts that were written, and the way to read the desk's receipts.
// DOM only: parts are handed in as files, a receipt that was chosen is handed on as text.

import { button, el, replace, showHead } from "./elements.js";
import { helpKey } from "./help.js";
import { number } from "../language/formats.js";
import { say } from "../language/words.js";
import { sentences } from "./words.js";

/** What one receipt changed, in words. @param {ReceiptReading} receipt @param {number} matched */
export function receiptWords(receipt, matched) {
  if (receipt.fault !== null) return say(`phone.carry.${receipt.fault}`);
  /** @param {Result["status"][]} statuses */
  const of = (statuses) => receipt.results.filter((result) => statuses.includes(result.status)).length;
  const photos = new Map(receipt.photos.map((photo) => [photo.sha256, photo.kept]));
  const kept = [...photos.values()].filter(Boolean).length;
  /** @param {string} code @param {number} count @param {Record<string, number>} [more] */
  const counted = (code, count, more) => count > 0 && say(`phone.carry.${code}`, { count, ...more });
  return sentences([
    say("phone.carry.filed", { count: of(["accepted", "conflict"]) }),
    counted("refused", of(["rejected"])),
    counted("deferred", of(["deferred"])),
    counted("photos", photos.size, { kept }),
    counted("damaged", receipt.damaged),
    (receipt.lost > 0 || !receipt.whole) && say("phone.carry.read_again"),
    counted("unmatched", receipt.results.length - matched),
  ]);
}

/** @param {BundleFile} part @param {number} place @param {number} parts */
function partRow({ name, size, url }, place, parts) {
  const words = say("phone.carry.part", { part: place + 1, parts });
  return el("li", null, el("a", { href: url, download: name }, words), " ",
    say("phone.carry.size", { size: number(size / 1e6, 1) }));
}

/** @param {Pick<CarryPage, "parts" | "share">} page */
function partsWritten({ parts, share }) {
  if (parts.length === 0) return [el("p", { class: "meaning" }, say("phone.carry.none"))];
  return [
    el("p", { class: "meaning" }, say("phone.carry.each")),
    el("ol", { class: "parts" }, parts.map((part, place) => partRow(part, place, parts.length))),
    share && button(say("phone.carry.share"), share, { class: "quiet" }),
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
  const context = el("p", { class: "context" }, say("phone.carry.context"));
  const way = el("a", { class: "way", href: "/" }, say("phone.page.day"));
  showHead(places, context, el("h1", null, say("phone.carry.title")), way);
  places.page.className = "settings";
  const waiting = button(say("phone.carry.waiting"), () => write(false), { class: "quiet" });
  const everything = button(say("phone.carry.everything"), () => write(true), { class: "quiet" });
  replace(
    places.page,
    el("h2", null, say("phone.carry.to_desk")), ...partsWritten({ parts, share }),
    el("div", { class: "ways" }, waiting, everything, helpKey("key", "carry_by_hand")),
    el("h2", null, say("phone.carry.from_desk")),
    el("p", { class: "meaning" }, say("phone.carry.bring")),
    el("div", { class: "field" }, el("label", { for: "receipts" }, say("phone.carry.receipts")), choose), answer,
  );
  places.foot.replaceChildren(button(say("phone.page.back"), home, { class: "main" }), places.status);
}
