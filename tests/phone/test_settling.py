"""The log of settling on the phone: two taps that belong together, taking one back, deleting one, what is said of it.

A real Chromium whose clock is moved by hand; nothing of the page is stood in for.
"""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from tests.support.browser import Phone
from tests.support.hands import confirm_cautions, filed, go_to, hand_in, saved, start_visit, write
from tests.support.service import Service

SECOND_MS = 1000


def at_readings(handset: Phone, service: Service) -> tuple[Page, str]:
    """A visit at the readings of the test before, the page's clock stopped; the page and the visit's id."""
    page = handset.open("about:blank")
    page.clock.install(time="2026-07-14T10:00:00+01:00")
    handset.pair(page, service)
    visit = start_visit(page)
    confirm_cautions(page)
    go_to(page, "Before")
    page.clock.pause_at("2026-07-14T10:30:00+01:00")  # or a slow machine's seconds would be counted, too
    return page, visit


def log(page: Page, vent: str, high: str, count: int) -> None:
    """Type two readings and log them; so many entries stand then."""
    write(page, "Centre vent", vent)
    write(page, "High side", high)
    page.get_by_role("button", name="Log these readings now").click()
    expect(page.locator(".settling")).to_contain_text(f"{count} logged.")


def test_two_taps_within_ten_seconds_are_one_entry(handset: Phone, service: Service) -> None:
    """The second mends the first; eleven seconds later it is another."""
    page, visit = at_readings(handset, service)
    log(page, "9", "14", 1)
    page.clock.fast_forward(9 * SECOND_MS)
    log(page, "8.5", "14", 1)
    page.clock.fast_forward(11 * SECOND_MS)
    log(page, "8", "14", 2)
    page.clock.resume()
    hand_in(page)
    service.stop()
    _, kept = filed(service, visit)
    assert [(point["s"], point["vent_c"]) for point in kept["tests"][0]["trace"]] == [(9, 8.5), (20, 8)]


def test_undo_stands_where_log_stood_until_the_next_reading(handset: Phone, service: Service) -> None:
    """Taken back at once; with another reading the key logs again, and after a while by itself."""
    page, _ = at_readings(handset, service)
    key = page.locator(".settling .helped .quiet").first
    log(page, "9", "14", 1)
    expect(key).to_have_text("Undo")
    key.click()  # in the very moment a second tap is meant for the key that stood there
    expect(page.locator(".settling")).to_contain_text("1 logged.")
    page.clock.fast_forward(1 * SECOND_MS)
    key.click()
    expect(page.locator(".settling")).not_to_contain_text("logged.")
    expect(key).to_have_text("Log these readings now")
    page.clock.fast_forward(1 * SECOND_MS)
    key.click()
    expect(key).to_have_text("Undo")
    write(page, "Centre vent", "8")
    expect(key).to_have_text("Log these readings now")
    key.click()
    expect(key).to_have_text("Undo")
    page.clock.run_for(22 * SECOND_MS)
    expect(key).to_have_text("Log these readings now")


def test_each_entry_can_be_deleted(lasting: Phone, service: Service) -> None:
    """With its time and readings beside it; what is left is what the desk files."""
    page, visit = at_readings(lasting, service)
    for count, vent in enumerate(("9", "6", "5"), start=1):
        log(page, vent, "14", count)
        page.clock.fast_forward(60 * SECOND_MS)
    page.get_by_text("What was logged", exact=True).click()
    rows = page.locator(".settling li")
    expect(rows).to_have_count(3)
    expect(rows.nth(1)).to_contain_text("10:31:00: vent 6.0\u00a0°C, high side 14.00\u00a0bar")
    page.get_by_role("button", name="Delete the entry of 10:31:00").click()
    expect(rows).to_have_count(2)
    expect(page.locator(".settling")).to_contain_text("2 logged.")
    saved(page)
    lasting.kill()
    page = lasting.open(f"{service.url}/visit/{visit}/before")
    expect(page.locator(".settling")).to_contain_text("2 logged.")
    hand_in(page)
    service.stop()
    ops, kept = filed(service, visit)
    assert [point["vent_c"] for point in kept["tests"][0]["trace"]] == [9, 5]
    assert [op["kind"] for op in ops].count("trace.strike") == 1


def test_not_settled_is_said_only_of_readings_that_moved(handset: Phone, service: Service) -> None:
    """A minute without a change says what is lacking; a fall says so; the axis has the minutes there are."""
    page, _ = at_readings(handset, service)
    block = page.locator(".settling")
    log(page, "5", "14", 1)
    page.clock.fast_forward(50 * SECOND_MS)
    log(page, "5.1", "14.05", 2)
    expect(block).to_contain_text("To judge this, log the vent and the high side")
    expect(block).not_to_contain_text("Not settled")
    short = re.compile("^Vent over less than a minute: from 5.0 °C to 5.1 °C")
    expect(page.get_by_role("img", name=short)).to_be_visible()
    assert page.locator(".plot .time").all_text_contents() == ["0"]
    page.clock.fast_forward(100 * SECOND_MS)
    log(page, "3", "14", 3)
    expect(block).to_contain_text("Not settled yet")
    assert page.locator(".plot .time").all_text_contents() == ["0", "2\u00a0min"]
