"""A phone whose storage takes nothing more: typed text stays, the page says so, and all goes on once there is room.

A real Chromium whose quota is lowered by its own developer tools, and a real `layby serve`.
"""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.support.browser import Phone
from tests.support.hands import filed, go_to, ready_offline, saved, start_visit, to_day, write
from tests.support.service import Service

FULL = re.compile("^This phone's storage is full, so that wasn't saved. Free some space")


class Room:
    """The room that a phone's browser gives the page."""

    def __init__(self, lasting: Phone, service: Service) -> None:
        """The browser is opened again, because it checks the room left before a page's first write."""
        lasting.close()
        self.page = lasting.open("about:blank")
        assert lasting.context is not None
        self.devtools = lasting.context.new_cdp_session(self.page)
        self.origin = service.url

    def used(self) -> int:
        """How much the page has in store [bytes]."""
        return int(self.devtools.send("Storage.getUsageAndQuota", {"origin": self.origin})["usage"])

    def only(self, quota: int) -> None:
        """No more than this altogether [bytes]."""
        self.devtools.send("Storage.overrideQuotaForOrigin", {"origin": self.origin, "quotaSize": quota})

    def back(self) -> None:
        """As much as ever."""
        self.devtools.send("Storage.overrideQuotaForOrigin", {"origin": self.origin})


# Asked of the full store after what the page asked of it: once this is refused, the page has its answer.
REST = """async () => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  for (let turn = 0; turn < 3; turn += 1) await outbox.remember('room', turn).catch(() => undefined);
}"""


@pytest.fixture
def full(lasting: Phone, service: Service) -> tuple[Page, Room, str]:
    """A phone with a visit of two entries that wait, whose storage is full; the page stands on an empty tab."""
    page = lasting.open(service.url)
    ready_offline(page)
    page.route("**/sync", lambda route: route.abort("connectionreset"))
    visit = start_visit(page, "M. Okafor")
    go_to(page, "Vehicle")
    saved(page)
    room = Room(lasting, service)
    room.only(1)
    return room.page, room, visit


def test_what_was_not_saved_is_saved_by_itself_when_there_is_room(
    full: tuple[Page, Room, str], service: Service
) -> None:
    """Typed into a full phone and left alone: reported at once, kept on the screen, saved without another key."""
    page, room, visit = full
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    write(page, "Registration", "LT 482")
    expect(page.locator("#status")).to_have_text(FULL)
    room.back()
    saved(page)
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    expect(page.get_by_label("Registration", exact=True)).to_have_value("LT 482")


def test_going_back_from_a_full_phone_takes_no_word_away(full: tuple[Page, Room, str], service: Service) -> None:
    """The browser's own Back leads nowhere while typed text has no place; with room it does, and all is filed."""
    page, room, visit = full
    page.goto(service.url)
    page.get_by_role("link", name=re.compile("M. Okafor")).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Vehicle")
    write(page, "Registration", "LT 482")
    expect(page.locator("#status")).to_have_text(FULL)
    page.go_back()
    expect(page.locator("#status")).to_have_text(FULL)
    expect(page.get_by_label("Registration", exact=True)).to_have_value("LT 482")
    expect(page).to_have_url(f"{service.url}/visit/{visit}/vehicle")
    room.back()
    saved(page)
    to_day(page)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    service.stop()
    assert filed(service, visit)[1]["vehicle"]["plate"] == "LT 482"


def test_what_is_no_entry_yet_keeps_its_screen_on_a_full_phone(full: tuple[Page, Room, str], service: Service) -> None:
    """A year that isn't a number can only be a draft: while there is no room for it, "The day" leads nowhere."""
    page, room, visit = full
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    write(page, "Year", "two thousand")
    expect(page.locator("#status")).to_have_text(FULL)
    page.get_by_role("link", name="The day").click()
    page.evaluate(REST)
    expect(page.get_by_label("Year", exact=True)).to_have_value("two thousand")
    room.back()
    saved(page)
    to_day(page)
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    expect(page.get_by_label("Year", exact=True)).to_have_value("two thousand")


def test_a_full_phone_says_what_the_desk_answered_for_nothing(
    full: tuple[Page, Room, str], service: Service
) -> None:
    """What is sent arrives, but that can't be noted: the page says so, it waits, and with room it is filed once."""
    page, room, visit = full
    page.goto(service.url)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).to_have_text(
        "This phone's storage is full, so the desk's answer wasn't saved. "
        "Everything stays here and will be sent again. Free some space."
    )
    expect(page.locator("#tally")).to_have_text("1 visit captured, 0 filed, 1 waiting, 0 refused.")
    room.back()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    service.stop()
    ops, kept = filed(service, visit)
    assert [op["kind"] for op in ops] == ["visit.open", "visit.set"]
    assert kept["customer"]["name"] == "M. Okafor"
