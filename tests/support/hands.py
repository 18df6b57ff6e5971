"""A technician's hands on the phone page: start, jump, type, tap, confirm; and a look at what the desk then holds.

No test and no expectation of the trade lives here.
"""

from __future__ import annotations

import re
import time
from typing import Any

from playwright.sync_api import Error, Locator, Page, expect

from tests.support.children import PATIENCE_S
from tests.support.service import Service


def start_visit(page: Page, customer: str = "") -> str:
    """Start a visit, for a customer if one is named, and wait until it is drawn; returns its id."""
    page.get_by_role("button", name="Start a visit").click()
    page.wait_for_url(re.compile(r"/visit/"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Customer and location")
    if customer:
        write(page, "Customer", customer)
    return page.url.split("/")[4]


# Where a page is, what it says, and what is open on it.
STANDING = """() => JSON.stringify({
  path: location.pathname, title: document.querySelector('h1')?.textContent,
  status: document.querySelector('#status')?.textContent, panels: document.querySelectorAll('dialog[open]').length,
  focus: document.activeElement?.outerHTML.slice(0, 120),
})"""


def go_to(page: Page, step: str) -> None:
    """Jump to a step by the panel of steps and wait until it is drawn, again if it is the current one."""
    page.get_by_role("heading", level=1).evaluate("heading => { heading.dataset.left = ''; }")
    page.locator("#foot .steps").click()
    page.get_by_role("navigation").get_by_role("link", name=re.compile(f"^{re.escape(step)}")).click()
    try:
        expect(page.locator("h1[data-left]")).to_have_count(0)
    except AssertionError as error:
        raise AssertionError(f"{step} was not drawn; the page: {page.evaluate(STANDING)}") from error
    expect(page.get_by_role("heading", level=1)).to_have_text(step)


def wait_until(page: Page, script: str) -> None:
    """Wait until a script's result counts as true; a promise is awaited, which `wait_for_function` doesn't do."""
    end = time.monotonic() + PATIENCE_S
    while not page.evaluate(script):
        assert time.monotonic() < end, f"not within {PATIENCE_S} s: {script}"
        page.wait_for_timeout(50)


def to_day(page: Page) -> None:
    """Go back to the day; the step's content is kept first, so the way there takes a moment."""
    page.get_by_role("link", name="The day").click()
    expect(page.get_by_role("button", name="Start a visit")).to_be_visible()


def hand_in(page: Page, count: int = 1) -> None:
    """Go back to the day, send, and wait until this many visits are filed and none waits."""
    to_day(page)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text(f"{count} filed, 0 waiting")


def sign(page: Page, again: bool = False) -> None:
    """Draw one stroke on the sheet for signatures, which is opened first; to sign again it is open."""
    if not again:
        page.get_by_text("Signature", exact=True).click()
    sheet = page.get_by_role("img", name="Sign here with a finger")
    sheet.evaluate("sheet => sheet.scrollIntoView({ block: 'center' })")
    box = sheet.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 30, box["y"] + 40)
    page.mouse.down()
    page.mouse.move(box["x"] + 140, box["y"] + 60, steps=6)
    page.mouse.up()


QUANTITIES = {
    "psi": "Pressures", "kPa": "Pressures", "bar": "Pressures", "\u00b0F": "Temperatures", "\u00b0C": "Temperatures",
    "m": "Altitude", "ft": "Altitude", "km": "Distances", "mi": "Distances", "g": "Masses", "oz": "Masses",
    "Pa": "Deep vacuum", "micron": "Deep vacuum",
}  # fmt: skip


def in_unit(page: Page, unit: str) -> None:
    """Read and type a quantity in this unit from now on: set it in the settings, and come back to the step."""
    title = page.get_by_role("heading", level=1).inner_text()
    to_day(page)
    page.get_by_role("link", name="Settings").click()
    choose(page, QUANTITIES[unit], unit)
    page.evaluate("history.go(-2)")
    expect(page.get_by_role("heading", level=1)).to_have_text(title)


# Whatever hides a field, from the outside inwards: a part that folds, or one that a key beside it opens.
UNFOLD = """(field) => {
  const folds = [];
  for (let one = field; one !== null; one = one.parentElement) {
    if (one.matches('details:not([open])')) folds.unshift(one.querySelector('summary'));
    if (one.hidden && one.id) folds.unshift(document.querySelector(`[aria-controls="${one.id}"]`));
  }
  folds.forEach((fold) => fold.click());
}"""


def unfold(field: Locator) -> Locator:
    """Open what a field is folded into, as whoever looks for it does."""
    field.first.evaluate(UNFOLD)
    return field


def write(page: Page, label: str, text: str) -> None:
    """Type into a field key by key."""
    field = unfold(page.get_by_label(label, exact=True))
    field.fill("")
    field.press_sequentially(text)


def choose(page: Page, group: str, word: str) -> None:
    """Tap a word of a choice."""
    unfold(page.get_by_role("group", name=group, exact=True, include_hidden=True))
    words = page.get_by_role("group", name=group, exact=True).locator("label")
    words.filter(has_text=re.compile(f"^{re.escape(word)}$")).click()


def do(page: Page, deed: str, key: str = "") -> None:
    """Tick a piece of work or a move; where its caution opens, press a key of it, else the one that begins no clock."""
    tick = page.get_by_role("button", name=deed, exact=True)
    tick.click()
    if tick.get_attribute("aria-pressed") == "mixed":
        keys = page.locator(".caution:visible button")
        keys.filter(has_text=re.compile(key or "^(Read|read, no clock)$")).click()
    expect(tick).to_have_attribute("aria-pressed", "true")


def confirm_cautions(page: Page) -> None:
    """Read and confirm the cautions that fit."""
    go_to(page, "Cautions")
    page.get_by_role("button", name="Read, everything is in place").click()
    expect(page.get_by_text("to confirm", exact=True)).to_have_count(0)


def saved(page: Page) -> None:
    """Wait until the page says that it has saved."""
    expect(page.locator("#status")).to_have_text(re.compile(r"^Saved on this phone at \d\d:\d\d:\d\d$"))


def on_phone(page: Page) -> None:
    """Wait until all that the page has begun to write is on the phone: a read waits for the writes before it."""
    page.evaluate("async () => void await (await import('/page.js')).$store_outbox.openOutbox().recall('settings')")


def at_rest(page: Page) -> None:
    """Wait until nothing of this phone is on its way to the desk, and no answer on its way back."""
    page.evaluate("navigator.locks.request('layby-courier', () => undefined)")


PATIENCE_OF_OLD_WORKER_MS = 330_000
# The workers of a page, and what each is at.
WORKERS = """async () => {
  const { installing, waiting, active } = await navigator.serviceWorker.getRegistration();
  return JSON.stringify({ installing: installing?.state, waiting: waiting?.state, active: active?.state });
}"""


def ready_offline(page: Page) -> None:
    """Wait until the page says that it works offline."""
    expect(page.locator("#offline")).to_contain_text("works offline")


def take_update(page: Page) -> None:
    """Tap the key for a newer page, and wait until that one is there.

    Chromium leaves an old worker that is woken while it is told to go in its place until it has been idle, for five
    minutes at most; no request to the desk wakes one.
    """
    try:
        with page.expect_navigation(timeout=PATIENCE_OF_OLD_WORKER_MS):
            page.get_by_role("button", name="Update now").click()
    except Error as error:
        raise AssertionError(f"no newer page came; the workers are {page.evaluate(WORKERS)}") from error


def meaning(page: Page, label: str) -> Locator:
    """The line under a reading."""
    return page.locator(".reading", has=page.get_by_label(label, exact=True)).locator(".meaning")


def filed(service: Service, visit: str) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """The operations of a visit as the desk holds them, and the visit they amount to; the service must be stopped."""
    from sync import rulebook
    from sync.records.logbook import Logbook

    with Logbook(service.folder, rulebook.load()) as logbook:
        return logbook.ops(visit), logbook.visit(visit)
