// A clock that has ended: the screen inverted, what to do, how long ago it was due, the one key that does it.
// DOM only: nothing else closes it.

import { button, el, setText } from "./elements.js";
import { clock, countdown } from "../language/formats.js";
import { say } from "../language/words.js";

// From here on the screen says how late it rings.
const LATE_MS = 10_000;

/**
 * @param {{name: string, kind: string, begun: number, due: number, limit: number}} over whose it is, and its instants
 * @param {number} now when it begins to ring
 * @param {() => unknown} press
 */
export function ringing({ name, kind, begun, due, limit }, now, press) {
  const title = say(`phone.ring.${kind}.title`);
  const context = say(`phone.ring.${kind}.context`, { name, clock: clock(new Date(begun)) });
  const digits = el("p", { class: "digits", role: "timer" });
  const late = now - due > LATE_MS
    ? el("p", null, say("phone.ring.late", { clock: clock(new Date(due)), time: countdown(due - now) })) : null;
  let done = false;
  const key = button(say(`phone.ring.${kind}.key`), () => {
    done = true;
    root.close();
    press();
  }, { class: "main" });
  /** @param {Event} event */
  const cancel = (event) => event.preventDefault();
  const root = el(
    "dialog", { class: "ringing", "aria-label": title, on: { cancel, close } },
    el("div", { role: "main" }, el("p", { class: "context" }, context), el("h1", null, title), digits,
      el("p", null, say(`phone.ring.${kind}.words`, { limit })), late),
    key,
  );
  function close() {
    // Some browsers close a dialog at the second press of their own way back; a clock that has ended stays.
    if (done) root.remove();
    else root.showModal();
  }
  /** @param {number} at */
  const tick = (at) => {
    const text = say("phone.clock.over", { time: countdown(Math.min(0, due - at)) });
    setText(digits, text);
    digits.style.setProperty("--signs", String(text.length));
  };
  tick(now);
  document.body.append(root);
  root.showModal();
  return { tick };
}
