// Pairing with the desk: how it stands, a field for the short code, and the page that the desk's code opens.
// DOM only: showing the desk a code is an action, and nothing is kept here.

import { button, el, replace, say, showHead } from "./elements.js";
import { helpKey } from "./help.js";
import { dayAndClock, faultWords } from "./words.js";

const UNPAIRED =
  "Not paired: what you write is kept on this phone. It is sent once this phone is paired with your desk.";

const PAUSED = "Sending is paused and everything stays here. Pair it again to go on.";

const HOME_FIRST =
  "On this phone, put the page on the home screen first (Share, Add to Home Screen) and open it there. "
  + "Only that notebook is kept for good, and it is paired by the eight digits.";

const CLEARED =
  "was this phone, the browser has cleared its notebook: what had not been sent is lost. "
  + "What was filed is at the desk.";

const CODE_HINT =
  "At the desk, run layby pair or open its page of phones. "
  + "Type the eight digits that it shows; they are good for five minutes.";

/**
 * `desk` is what the phone remembers of its pairing, undefined before the first.
 *
 * @param {Desk | undefined} desk
 * @param {Date} now
 */
export function deskWords(desk, now) {
  if (desk === undefined) return UNPAIRED;
  const since = `paired with ${desk.origin} as \u201c${desk.name}\u201d ${dayAndClock(new Date(desk.paired_at), now)}`;
  if (desk.shutOut) return `The desk no longer knows this phone (${since}). ${PAUSED}`;
  return `This phone is ${since}.`;
}

/** The words on the day: nothing while all is well. @param {Desk | undefined} desk */
export function deskNotice(desk) {
  if (desk === undefined) return "Not paired: kept on this phone.";
  return desk.shutOut ? "The desk no longer knows this phone: sending is paused, everything stays here." : null;
}

/**
 * What an empty notebook says of the desk's other phones: a store that was cleared leaves no other trace.
 *
 * @param {Desk | undefined} desk
 * @param {Date} now
 */
export function earlierNotice(desk, now) {
  const others = desk?.others ?? [];
  if (others.length === 0) return null;
  /** @param {number} at */
  const heard = (at) => `last heard ${dayAndClock(new Date(at), now)}`;
  const named = others.map((other) => `\u201c${other.name}\u201d, ${heard(other.last_seen)}`);
  const [phones, which] = others.length === 1 ? ["another phone", "it"] : ["other phones", "one of them"];
  return `The desk knows ${phones}: ${named.join("; ")}. If ${which} ${CLEARED}`;
}

// Only iOS has this property. In its browser, a page's notebook is cleared after a while and is not the one that the
// page has on the home screen, so that a code used here would pair the wrong one.
const notHome = () => navigator.standalone === false;

// What is said first where the page was not opened from the home screen; null elsewhere.
export function homeFirst() {
  return notHome() ? el("p", { class: "notice sentence", id: "home" }, HOME_FIRST) : null;
}

/**
 * How it stands and the field for a code; `pair(code)` resolves with the desk as it is then remembered.
 *
 * @param {Pairing} pairing
 */
export function pairingPart({ desk, now, pair, paired = () => undefined }) {
  const stands = el("p", { class: "meaning", id: "paired" }, deskWords(desk, now()));
  const fault = el("p", { class: "fault", role: "alert" });
  const hint = el("p", { class: "meaning", id: "code-hint" }, CODE_HINT);
  const input = el("input", {
    id: "code", class: "written", type: "text", inputmode: "numeric", autocomplete: "one-time-code", maxlength: "64",
    "aria-describedby": hint.id,
  });
  /** @param {string} code */
  async function show(code) {
    say(fault, code.trim() === "" ? "Type the code that the desk shows." : "");
    if (code.trim() === "") return;
    press.disabled = true;
    try {
      const answer = await pair(code.trim());
      input.value = "";
      say(stands, deskWords(answer, now()));
      paired(answer);
    } catch (error) {
      say(fault, faultWords(error));
    }
    press.disabled = false;
  }
  const press = button("Pair this phone", () => show(input.value), { class: "quiet" });
  const field = el("div", { class: "field" }, el("label", { for: "code" }, "Code from the desk"), input, hint);
  return { root: el("section", null, stands, fault, field, press, helpKey("key", "pair")), show, input, press };
}

/**
 * The page behind the address that the desk shows as a QR code; with a code in it, pairing begins at once.
 *
 * @param {Places} places
 * @param {Pairing & {code: string, home: () => unknown}} page
 */
export function pairingScreen(places, { code, home, ...rest }) {
  const part = pairingPart(rest);
  showHead(places, el("p", { class: "context" }, "so that entries can be sent"), el("h1", null, "Pair this phone"));
  places.index.hidden = true;
  places.page.className = "settings";
  replace(places.page, homeFirst(), part.root);
  part.press.className = "main";
  const ways = el("div", { class: "ways" }, button("To the day", home, { class: "quiet" }));
  places.foot.replaceChildren(part.press, ways, places.status);
  if (code === "" || notHome()) return;
  part.input.value = code;
  void part.show(code);
}
