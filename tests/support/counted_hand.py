"""One hand on the phone page that counts: every press on a control, and every screenful it has to look at.

What is counted: a press on a key, link, tick, word of a choice or row that unfolds; a press into a field to type there;
a stroke of a signature; the key that opens the camera. What is not: letters and digits, and the keyboard's own Next,
which goes on to the next field and counts as one of them. The camera's shutter and a date picker lie beyond the page.

A screenful is a screen that is drawn anew, and every further height of the page between head and foot that has to be
scrolled by before the control can be pressed. No test lives here.
"""

from __future__ import annotations

import math
from typing import Any, Protocol

from playwright.sync_api import Error, Page, TimeoutError

from tests.support.webdriver import ELEMENT, NOT_YET, Browser, Refused

NEXT = "\ue007"  # Enter as WebDriver writes it

# The nearest control below the last one that was pressed, or else the first: by its words as a person reads them, or
# a field by its label. What has to be scrolled by is given in heights of the page between head and foot.
FIND = """
  const [words, inside] = arguments;
  const plain = (node) => (node.getAttribute("aria-label") ?? node.textContent).replace(/\\s+/g, " ").trim();
  const seen = (one) => one.getClientRects().length > 0 && getComputedStyle(one).visibility !== "hidden"
    && one.closest("details:not([open]) > :not(summary)") === null;
  const top = document.querySelector("dialog[open]") ?? document.body;
  const parts = [...top.querySelectorAll("[aria-label], fieldset, .check")];
  const within = inside === "" ? top : parts.find((one) => seen(one)
    && (one.getAttribute("aria-label") ?? one.querySelector("legend")?.textContent ?? "").trim() === inside);
  const fields = "input:not([type=radio]):not([type=checkbox]):not([type=file]), textarea";
  const named = (field) => field.getAttribute("aria-label") ?? [...(field.labels ?? [])].map(plain)[0];
  const has = (one) => one.matches(fields)
    ? named(one) === words
    : plain(one) === words || (one.matches("summary") && one.textContent.trim().startsWith(words));
  const all = [...(within?.querySelectorAll(`button, a, label.choice, summary, .sign-here, ${fields}`) ?? [])];
  const found = all.filter(seen).find(has);
  if (found === undefined || top.getAnimations().length > 0) return null;
  const foot = document.querySelector("#bottom").getBoundingClientRect();
  const { top: y, bottom } = found.getBoundingClientRect();
  const still = found.closest("#bottom, #head, dialog") !== null || (y >= 0 && bottom <= foot.top);
  const away = still ? 0 : Math.max(bottom - foot.top, -y) / foot.top;
  if (away > 0) found.scrollIntoView({ block: "center" });
  return [found, away, document.querySelector("h1")?.textContent ?? ""];
"""


class Screen(Protocol):
    """What a hand needs of a browser."""

    def find(self, words: str, inside: str) -> tuple[Any, float, str]:
        """The control, how far away it is [heights of a page], and the title of the screen."""

    def press(self, control: Any) -> bool:
        """Press it; whether it was still there to be pressed, as the page may be drawn anew in between."""

    def type(self, text: str) -> None:
        """Type where the caret is."""

    def see(self, words: str) -> None:
        """Wait until these words are on the page."""


class InChromium:
    """By Playwright."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def find(self, words: str, inside: str) -> tuple[Any, float, str]:
        """See `Screen`."""
        script = f"given => {{ const arguments_ = given; {FIND.replace('arguments;', 'arguments_;')} }}"
        try:
            handle = self.page.wait_for_function(script, arg=[words, inside])
        except TimeoutError as error:
            raise AssertionError(f"no {words!r} {inside}") from error
        control, away, title = (handle.get_property(str(place)) for place in range(3))
        return control.as_element(), float(away.json_value()), str(title.json_value())

    def press(self, control: Any) -> bool:
        """See `Screen`."""
        try:
            control.click()
        except Error as error:
            if "not attached" not in str(error):
                raise
            return False
        return True

    def type(self, text: str) -> None:
        """See `Screen`."""
        for letter in text:
            self.page.keyboard.press("Enter" if letter == NEXT else letter)

    def see(self, words: str) -> None:
        """See `Screen`."""
        self.page.get_by_text(words).first.wait_for()


class InOther:
    """By the commands of WebDriver."""

    def __init__(self, browser: Browser) -> None:
        self.browser = browser

    def find(self, words: str, inside: str) -> tuple[Any, float, str]:
        """See `Screen`."""
        control, away, title = self.browser.until(FIND, words, inside)
        return control[ELEMENT], float(away), str(title)

    def press(self, control: Any) -> bool:
        """See `Screen`."""
        try:
            self.browser.ask("click", {"id": control})
        except Refused as refused:
            if refused.args[0] not in NOT_YET:
                raise
            return False
        return True

    def type(self, text: str) -> None:
        """See `Screen`."""
        for part in text.replace(NEXT, f"\n{NEXT}\n").split("\n"):
            if part:
                field = self.browser.run("return document.activeElement")
                self.browser.ask("keys", {"id": field[ELEMENT], "text": part})

    def see(self, words: str) -> None:
        """See `Screen`."""
        self.browser.see(words)


class CountedHand:
    """Presses and types; `taps` and `screens` are what it took."""

    def __init__(self, page: Screen) -> None:
        self.page = page
        self.taps = 0
        self.screens = 1
        self.title = ""
        self.log: list[str] = []

    def press(self, *words: str, inside: str = "") -> Any:
        """Press one control after the other, each found by its words; the last one."""
        control = None
        for one in words:
            control = self.come_to(one, inside)
            while not self.page.press(control):
                control, _, _ = self.page.find(one, inside)
        return control

    def come_to(self, words: str, inside: str = "") -> Any:
        """Find one control and count its press, which is left to the caller."""
        control, away, title = self.page.find(words, inside)
        self.screens += math.ceil(away) + (title != self.title and self.title != "")
        self.title = title
        self.taps += 1
        self.log.append(words)
        return control

    def write(self, label: str, *texts: str, inside: str = "") -> None:
        """Press into a field and type; the further texts go into the fields that follow, by the keyboard's Next."""
        self.press(label, inside=inside)
        self.page.type(NEXT.join(texts))
