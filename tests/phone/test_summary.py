"""What the phone hands to a customer at once, and how few taps a visual check takes.

A real Chromium; the clipboard is the browser's own. Readings are invented, psi and degrees Fahrenheit as typed.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import expect

from tests.support.browser import Phone, phone
from tests.support.hands import choose, filed, go_to, hand_in, start_visit
from tests.support.service import Service
from tests.support.walk import AFTER, BEFORE, arrive, read_off, settle

JARGON = ("split", "evaporating", "condensing", "superheat", "subcooling", "ratio", "saturation")


@pytest.fixture
def handset() -> Iterator[Phone]:
    """A phone with an empty profile whose browser lets a page read the clipboard."""
    with phone(permissions=["clipboard-read", "clipboard-write"]) as made:
        yield made
        assert made.complaints == []


def test_the_summary_is_in_words_a_customer_knows(handset: Phone, service: Service) -> None:
    """Vehicle, finding and the readings as typed, before and after; none of the trade's derived quantities."""
    page = handset.open(service.url)
    settle(page)
    page.get_by_role("button", name="Back to all visits").click()
    start_visit(page)
    arrive(page, lambda name: None)
    for step, readings in (("Before", BEFORE), ("After", AFTER)):
        go_to(page, step)
        read_off(page, readings)
    go_to(page, "Result")
    page.evaluate("navigator.share = undefined")
    page.get_by_role("button", name="Share summary").click()
    expect(page.locator("#status")).to_have_text("The summary is on the clipboard.")
    text = page.evaluate("navigator.clipboard.readText()")
    lines = text.splitlines()
    assert lines[:2] == ["Alder Coast Mobile Cooling", "blue estate LT 482"]
    assert "Pressure, high side, psi: before 214, after 167" in lines
    assert "Air from the vents, °F: before 41.2, after 41.0" in lines
    assert not [word for word in JARGON if word in text.lower()]


def test_what_was_looked_at_and_is_fine_takes_one_tap(handset: Phone, service: Service) -> None:
    """A reported fault stays; all others are ok, one entry each, and the key is gone."""
    page = handset.open(service.url)
    visit = start_visit(page)
    go_to(page, "Visual check")
    choose(page, "Condenser face", "dirty")
    page.get_by_role("button", name="All others inspected: ok").click()
    expect(page.get_by_role("button", name="All others inspected: ok")).to_be_hidden()
    hand_in(page)
    service.stop()
    states = {check["code"]: check["state"] for check in filed(service, visit)[1]["checks"]}
    assert states.pop("face_clean") == "fault"
    assert len(states) == 14
    assert set(states.values()) == {"ok"}
    assert not set(states) & {"air_strong", "stays_cold", "frost_free", "compressor_quiet"}  # nothing has run yet
