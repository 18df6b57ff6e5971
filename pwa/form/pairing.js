// Pairing with the desk: how it stands, a field for the short code, and the page that the desk's code opens.
// DOM only: showing the desk a code is an action, and nothing is kept here.

import { button, el, replace, setText, showHead } from "./elements.js";
import { helpKey } from "./help.js";
import { say } from "../language/words.js";
import { dayAndClock, faultWords } from "./words.js";

/**
 * `desk` is what the phone remembers of its pairing, undefined before the first.
 *
 * @param {Desk | undefined} desk
 * @param {Date} now
 */
export function deskWords(desk, now) {
  if (desk === undefined) return say("phone.pairing.unpaired");
  const values = { desk: desk.origin, name: desk.name, when: dayAndClock(new Date(desk.paired_at), now) };
  return say(desk.shutOut ? "phone.pairing.shut_out" : "phone.pairing.paired", values);
}

/** The words on the day: nothing while all is well. @param {Desk | undefined} desk */
export function deskNotice(desk) {
  if (desk === undefined) return say("phone.pairing.notice_unpaired");
  return desk.shutOut ? say("phone.pairing.notice_shut_out") : null;
}

/**
 * What an empty notebook says about the desk's other phones: a store that was cleared leaves no other trace.
 *
 * @param {Desk | undefined} desk
 * @param {Date} now
 */
export function earlierNotice(desk, now) {
  const others = desk?.others ?? [];
  if (others.length === 0) return null;
  const named = others.map((other) =>
    say("phone.pairing.other", { name: other.name, when: dayAndClock(new Date(other.last_seen), now) }));
  return say("phone.pairing.cleared", { count: others.length, phones: named.join("; ") });
}

// Only iOS has this property. In its browser, a page's notebook is cleared after a while and is not the one that the
// page has on the home screen, so that a code used here would pair the wrong one.
const notHome = () => navigator.standalone === false;

// What is said first if the page was not opened from the home screen; otherwise null.
export function homeFirst() {
  return notHome() ? el("p", { class: "notice sentence", id: "home" }, say("phone.pairing.home_first")) : null;
}

/**
 * How it stands and the field for a code; `pair(code)` resolves with the desk as it is then remembered.
 *
 * @param {Pairing} pairing
 */
export function pairingPart({ desk, now, pair, paired = () => undefined }) {
  const stands = el("p", { class: "meaning", id: "paired" }, deskWords(desk, now()));
  const fault = el("p", { class: "fault", role: "alert" });
  const hint = el("p", { class: "meaning", id: "code-hint" }, say("phone.pairing.hint"));
  const input = el("input", {
    id: "code", class: "written", type: "text", inputmode: "numeric", autocomplete: "one-time-code", maxlength: "64",
    "aria-describedby": hint.id,
  });
  /** @param {string} code */
  async function show(code) {
    setText(fault, code.trim() === "" ? say("phone.pairing.no_code") : "");
    if (code.trim() === "") return;
    press.disabled = true;
    try {
      const answer = await pair(code.trim());
      input.value = "";
      setText(stands, deskWords(answer, now()));
      paired(answer);
    } catch (error) {
      setText(fault, faultWords(error));
    }
    press.disabled = false;
  }
  const press = button(say("phone.pairing.key"), () => show(input.value), { class: "quiet" });
  const field = el("div", { class: "field" }, el("label", { for: "code" }, say("phone.pairing.code")), input, hint);
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
  const context = el("p", { class: "context" }, say("phone.pairing.context"));
  showHead(places, context, el("h1", null, say("phone.pairing.title")));
  places.page.className = "settings";
  replace(places.page, homeFirst(), part.root);
  part.press.className = "main";
  const ways = el("div", { class: "ways" }, button(say("phone.page.back"), home, { class: "quiet" }));
  places.foot.replaceChildren(part.press, ways, places.status);
  if (code === "" || notHome()) return;
  part.input.value = code;
  void part.show(code);
}
