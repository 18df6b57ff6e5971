"""Days of calibration: kept in the settings, carried by each visit, reported before the first reading once past.

A real Chromium against a real `layby serve`; the days are ISO 8601 (YYYY-MM-DD), far in the past and far ahead.
"""

from __future__ import annotations

from playwright.sync_api import Page, expect

from tests.support.browser import Phone
from tests.support.hands import confirm_cautions, filed, go_to, hand_in, start_visit, to_day, write
from tests.support.service import Service

PAST = "The calibration of the high gauge expired on 31 March 2021."


def calibrate(page: Page) -> None:
    """A high gauge whose day is past, a low gauge whose day is far ahead."""
    page.get_by_role("link", name="Settings").click()
    page.get_by_label("High gauge, calibrated until").fill("2021-03-31")
    page.get_by_label("Low gauge, calibrated until").fill("2120-03-31")
    expect(page.get_by_text("This date has passed.")).to_have_count(1)
    page.get_by_role("button", name="Back to all visits").click()


def test_a_calibration_that_ran_out_is_said_before_the_first_reading(handset: Phone, service: Service) -> None:
    """On the cautions and on the test before, for that instrument; the visit carries both days to the desk."""
    page = handset.open(service.url)
    calibrate(page)
    visit = start_visit(page, "M. Okafor")
    for step in ("Cautions", "Before"):
        go_to(page, step)
        expect(page.get_by_text(PAST)).to_be_visible()
        expect(page.get_by_text("The calibration of the")).to_have_count(1)
    confirm_cautions(page)
    go_to(page, "Before")
    write(page, "Centre vent", "7")
    go_to(page, "Work")
    go_to(page, "Before")
    expect(page.get_by_label("Centre vent", exact=True)).to_have_value("7")
    expect(page.get_by_text("The calibration of the")).to_have_count(0)
    hand_in(page)
    service.stop()
    kept = filed(service, visit)[1]["instruments"]
    assert kept == {"high_gauge": {"calibrated_until": "2021-03-31"}, "low_gauge": {"calibrated_until": "2120-03-31"}}


def test_a_new_day_reaches_a_visit_that_was_begun(handset: Phone, service: Service) -> None:
    """Set in the settings, it is offered where the old one is named, taken over with a tap, filed with the visit."""
    page = handset.open(service.url)
    calibrate(page)
    visit = start_visit(page, "M. Okafor")
    go_to(page, "Cautions")
    expect(page.get_by_text(PAST)).to_be_visible()
    to_day(page)
    page.get_by_role("link", name="Settings").click()
    page.get_by_label("High gauge, calibrated until").fill("2120-06-30")
    page.go_back()
    page.get_by_role("link", name="M. Okafor").click()
    go_to(page, "Cautions")
    page.get_by_role("button", name="Use the date from Settings").click()
    expect(page.get_by_text("The calibration of the")).to_have_count(0)
    hand_in(page)
    service.stop()
    kept = filed(service, visit)[1]["instruments"]
    assert kept == {"high_gauge": {"calibrated_until": "2120-06-30"}, "low_gauge": {"calibrated_until": "2120-03-31"}}


def test_a_day_of_calibration_can_be_taken_back(handset: Phone, service: Service) -> None:
    """Cleared in the settings, it is gone from the next visit, and nothing is said."""
    page = handset.open(service.url)
    calibrate(page)
    page.get_by_role("link", name="Settings").click()
    expect(page.get_by_label("High gauge, calibrated until")).to_have_value("2021-03-31")
    page.get_by_label("High gauge, calibrated until").fill("")
    page.get_by_role("button", name="Back to all visits").click()
    start_visit(page)
    go_to(page, "Cautions")
    expect(page.get_by_text("Wear eye protection")).to_be_visible()
    expect(page.get_by_text("The calibration of the")).to_have_count(0)
