"""Running times on the phone: kept over a killed page, written with the reading, moved when the clock is set.

A real Chromium whose clock is moved by hand; no part of the page is replaced.
"""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from tests.support.browser import Phone
from tests.support.hands import (
    choose,
    confirm_cautions,
    do,
    filed,
    go_to,
    hand_in,
    saved,
    start_visit,
    to_day,
    write,
)
from tests.support.service import Service

MINUTE_MS = 60_000


def opened(handset: Phone, url: str, time: str) -> Page:
    """The page, with its clock at a time that moves on by itself and by hand."""
    page = handset.open("about:blank")
    page.clock.install(time=time)
    handset.go(page, url)
    return page


def stopped(page: Page, time: str) -> None:
    """Go on to a time and stop the page's clock there, so that it shows the test's time on a slow machine too."""
    page.clock.pause_at(time)
    page.clock.run_for(1000)  # what the page renews each second is renewed


def value(page: Page, label: str, text: str) -> None:
    """Wait until a field holds a text."""
    expect(page.get_by_label(label, exact=True).locator("visible=true")).to_have_value(text)


def answer(page: Page, title: str, key: str) -> None:
    """Press the one key of a clock that rings."""
    page.get_by_role("dialog", name=title).get_by_role("button", name=key).click()
    expect(page.locator(".ringing")).to_have_count(0)


def filed_visit(page: Page, service: Service, visit: str) -> dict:
    """The visit as the desk holds it after a send."""
    hand_in(page)
    service.stop()
    return filed(service, visit)[1]


def test_minutes_outlive_a_killed_page_and_are_written_with_the_reading(lasting: Phone, service: Service) -> None:
    """Started at 10:00, killed, opened at 10:07: the reading then carries 7 minutes; a typed number stays."""
    page = opened(lasting, service.url, "2026-07-14T09:30:00+01:00")
    visit = start_visit(page)
    confirm_cautions(page)
    go_to(page, "Before")
    stopped(page, "2026-07-14T10:00:20+01:00")
    page.get_by_role("button", name="Engine running: Start the engine timer").click()
    expect(page.locator(".clock")).to_contain_text("running 0 min since 10:00")
    page.clock.resume()
    write(page, "Air at the condenser", "27")
    saved(page)
    value(page, "Engine running", "")
    lasting.kill()

    page = opened(lasting, f"{service.url}/visit/{visit}/before", "2026-07-14T10:02:00+01:00")
    expect(page.get_by_label("Air at the condenser", exact=True)).to_have_value("27")
    stopped(page, "2026-07-14T10:07:30+01:00")
    expect(page.locator(".clock")).to_contain_text("running 7 min since 10:00")
    write(page, "Low side", "180")
    value(page, "Engine running", "7")
    page.clock.fast_forward(3 * MINUTE_MS)
    write(page, "Engine running", "6")
    write(page, "High side", "1400")
    value(page, "Engine running", "6")
    page.clock.resume()
    kept = filed_visit(page, service, visit)
    assert kept["tests"][0]["conditions"]["running_min"] == 6


def test_dwell_and_drying_follow_each_other(handset: Phone, service: Service) -> None:
    """The rinse ends the dwell and begins the drying, which the day shows and the later reading carries."""
    page = opened(handset, service.url, "2026-07-14T09:30:00+01:00")
    visit = start_visit(page)
    go_to(page, "Work")
    do(page, "Condenser cleaned")
    stopped(page, "2026-07-14T10:00:00+01:00")
    cleaned = page.get_by_role("group", name="Condenser cleaned")
    expect(cleaned).to_contain_text("A locked phone may stay silent")
    page.get_by_role("button", name="Dwell time: Cleaner applied").click()
    expect(cleaned.locator(".digits")).to_have_text("10:00")
    expect(cleaned).to_contain_text("a limit, not a goal; the label governs")
    page.clock.fast_forward(8 * MINUTE_MS)
    expect(cleaned.locator(".digits")).to_have_text("2:00")
    cleaned.get_by_role("button", name="Rinsed now").click()
    value(page, "Dwell time", "8")
    expect(cleaned.locator(".digits")).to_be_hidden()
    to_day(page)
    expect(page.locator(".next")).to_contain_text("face drying, 15 min left")
    page.clock.fast_forward(6 * MINUTE_MS)
    expect(page.locator(".next")).to_contain_text("face drying, 9 min left")
    page.clock.resume()
    page.goto(f"{service.url}/visit/{visit}/cautions")
    confirm_cautions(page)
    go_to(page, "After")
    stopped(page, "2026-07-14T10:20:00+01:00")
    expect(page.locator(".form")).to_contain_text("rinsed 12 min ago")
    expect(page.locator(".form .digits:visible")).to_have_text("3:00")
    page.clock.fast_forward(4 * MINUTE_MS)
    answer(page, "The face is dry", "On to the test after")
    expect(page.locator(".form")).to_contain_text("rinsed 16 min ago, long enough")
    write(page, "Centre vent", "5")
    value(page, "Rinsed", "16")
    page.clock.resume()
    kept = filed_visit(page, service, visit)
    assert kept["work"][0]["cleaner"] == {"dwell_min": 8}
    assert kept["tests"][0]["conditions"]["rinsed_min_ago"] == 16


def test_taps_fill_the_compressors_times_by_whole_cycles(handset: Phone, service: Service) -> None:
    """On at 0, off at 12, on at 32, off at 46, on at 62 s: on 13 s, off 18 s; half a cycle more changes neither."""
    page = opened(handset, service.url, "2026-07-14T10:00:00+01:00")
    visit = start_visit(page)
    confirm_cautions(page)
    go_to(page, "Before")
    choose(page, "Compressor", "cycling")
    page.clock.pause_at("2026-07-14T10:20:00+01:00")
    on, off = "It comes on", "It goes off"
    for name, wait_s in ((on, 12), (off, 20), (on, 14), (off, 16), (on, 9)):
        page.get_by_role("button", name=name).click()
        page.clock.run_for(wait_s * 1000)
    page.get_by_role("button", name="It goes off").click()
    expect(page.locator(".taps")).to_contain_text("2 whole cycles: on 13 s, off 18 s.")
    value(page, "Compressor on for", "13")
    page.clock.resume()
    kept = filed_visit(page, service, visit)
    readings = kept["tests"][0]["readings"]
    assert (readings["on_s"], readings["off_s"]) == (13, 18)


def test_a_vacuum_that_is_held_writes_its_minutes_with_the_rise(handset: Phone, service: Service) -> None:
    """Held from 10:20, the rise read at 10:40: 20 minutes."""
    page = opened(handset, service.url, "2026-07-14T10:00:00+01:00")
    start_visit(page)
    go_to(page, "Work")
    do(page, "Vacuum")
    stopped(page, "2026-07-14T10:20:00+01:00")
    vacuum = page.get_by_role("group", name="Vacuum", exact=True)
    vacuum.get_by_role("button", name="Hold time: Start the hold timer").click()
    expect(vacuum.locator(".digits")).to_have_text("15:00")
    page.clock.fast_forward(20 * MINUTE_MS)
    answer(page, "Read the rise now", "On to the vacuum")
    expect(vacuum.locator(".digits")).to_have_text("+5:00")
    vacuum.get_by_label("Pressure rise", exact=True).fill("12")
    expect(vacuum.get_by_label("Hold time", exact=True)).to_have_value("20")


def test_a_clock_that_is_set_carries_what_runs_and_says_so(handset: Phone, service: Service) -> None:
    """Set back by an hour under an open page: the minutes go on from where they were, and the page says what it did."""
    page = opened(handset, service.url, "2026-07-14T09:30:00+01:00")
    start_visit(page)
    confirm_cautions(page)
    go_to(page, "Before")
    stopped(page, "2026-07-14T10:00:20+01:00")
    page.get_by_role("button", name="Engine running: Start the engine timer").click()
    page.clock.run_for(5 * MINUTE_MS)
    expect(page.locator(".clock")).to_contain_text("running 5 min since 10:00")
    page.clock.set_system_time("2026-07-14T09:05:21+01:00")
    page.clock.run_for(2000)
    expect(page.locator("#status")).to_contain_text("clock was set back by 60 minutes.")
    expect(page.locator(".clock")).to_contain_text("running 5 min since 09:00")


def test_a_clock_set_back_while_the_page_was_away_leaves_the_minutes_unknown(lasting: Phone, service: Service) -> None:
    """A start in the future isn't time that has passed: the page says so, and no minutes are written."""
    page = opened(lasting, service.url, "2026-07-14T10:00:00+01:00")
    visit = start_visit(page)
    confirm_cautions(page)
    go_to(page, "Before")
    page.get_by_role("button", name="Engine running: Start the engine timer").click()
    write(page, "Air at the condenser", "27")
    saved(page)
    lasting.kill()
    page = opened(lasting, f"{service.url}/visit/{visit}/before", "2026-07-14T09:30:00+01:00")
    expect(page.locator(".clock")).to_contain_text(re.compile("clock was set back while this ran"))
    write(page, "Low side", "180")
    saved(page)
    value(page, "Engine running", "")


def test_the_cleaners_mix_is_told_while_it_is_typed(handset: Phone, service: Service) -> None:
    """1 part to 4 of water, 2000 ml, two passes: 400 and 1600 ml, 1000 a pass (by hand); too strong a mix is named."""
    page = handset.open(service.url)
    visit = start_visit(page)
    go_to(page, "Work")
    do(page, "Condenser cleaned")
    work = page.get_by_role("group", name="Condenser cleaned")
    mix = {"Parts of cleaner": "1", "Parts of water": "4", "Volume mixed": "2000", "Applications": "2"}
    for label, text in mix.items():
        work.get_by_label(label, exact=True).fill(text)
    told = (
        "1 part of cleaner to 4 of water. 400 ml of cleaner and 1,600 ml of water. 1,000 ml a pass. "
        "The label governs."
    )
    expect(work.get_by_role("status")).to_have_text(told)
    work.get_by_label("Parts of water", exact=True).fill("2")
    expect(work.get_by_role("status")).to_contain_text("The cleaner was mixed stronger than usual. Its label governs.")
    kept = filed_visit(page, service, visit)
    assert kept["work"][0]["cleaner"] == {"parts_cleaner": 1, "parts_water": 2, "made_ml": 2000, "passes": 2}
