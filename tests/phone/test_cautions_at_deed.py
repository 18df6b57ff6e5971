"""Cautions where the deed is: opened at the tick, read with one key, never in the way of what was done already.

A real Chromium; which caution belongs to which deed is the rulebook's (`cautions.json`; common practice, no source).
"""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.support.browser import Phone, phone
from tests.support.hands import filed, go_to, hand_in, saved, start_visit
from tests.support.service import Service
from tests.support.sights import SIZES, faults_of

PLACE = "one => [one.offsetTop, one.offsetHeight]"
CLEANED, GAP = "Condenser cleaned", "Gap to the radiator cleaned"


def tick(page: Page, name: str) -> Locator:
    """The key of an entry."""
    return page.get_by_role("button", name=name, exact=True)


def at_work(page: Page) -> str:
    """A visit on the page of its work; its id."""
    visit = start_visit(page)
    go_to(page, "Work")
    return visit


def test_a_tick_opens_its_caution_and_stands_once_it_is_read(lasting: Phone, service: Service) -> None:
    """One key reads it and begins the ten minutes; the second work with the same caution asks no more."""
    page = lasting.open(service.url)
    visit = at_work(page)
    tick(page, CLEANED).click()
    caution = page.get_by_role("group", name="Before the cleaner goes on")
    expect(caution).to_contain_text("Coil cleaners are caustic or acid")
    expect(caution).to_contain_text("A locked phone may stay silent")
    expect(tick(page, CLEANED)).to_have_attribute("aria-pressed", "mixed")
    expect(page.get_by_role("group", name=CLEANED)).to_be_hidden()
    page.get_by_role("button", name="Read. Start 10 minutes").click()
    expect(tick(page, CLEANED)).to_have_attribute("aria-pressed", "true")
    expect(caution).to_be_hidden()
    expect(page.locator(".deed", has=tick(page, CLEANED))).to_contain_text(re.compile(r"caution read \d\d:\d\d"))
    expect(page.get_by_role("group", name=CLEANED).locator(".digits")).to_have_text(re.compile("^(10:00|9:5.)$"))
    tick(page, GAP).click()
    expect(tick(page, GAP)).to_have_attribute("aria-pressed", "true")
    saved(page)
    lasting.kill()

    page = lasting.open(f"{service.url}/visit/{visit}/work")
    expect(tick(page, CLEANED)).to_have_attribute("aria-pressed", "true")
    expect(page.locator(".deed", has=tick(page, CLEANED))).to_contain_text("caution read")
    hand_in(page)
    service.stop()
    ops, kept = filed(service, visit)
    assert [one["code"] for one in kept["work"]] == ["condenser_cleaned", "gap_cleaned"]
    assert [op["body"]["code"] for op in ops if op["kind"] == "caution.confirm"] == ["coil_cleaner"]


def test_two_entries_that_wait_share_one_caution_which_stays_where_it_is(handset: Phone, service: Service) -> None:
    """The second tick opens no other and moves nothing; one key lets both stand."""
    page = handset.open(service.url)
    at_work(page)
    tick(page, CLEANED).click()
    caution = page.locator(".caution:visible")
    place = caution.evaluate(PLACE)
    tick(page, GAP).click()
    expect(tick(page, GAP)).to_have_attribute("aria-pressed", "mixed")
    expect(caution).to_have_count(1)
    assert caution.evaluate(PLACE) == place
    page.get_by_role("button", name="read, no clock").click()
    for name in (CLEANED, GAP):
        expect(tick(page, name)).to_have_attribute("aria-pressed", "true")
    expect(page.locator(".digits:visible")).to_have_count(0)


def test_with_water_alone_nothing_is_read_and_it_can_be_read_later(handset: Phone, service: Service) -> None:
    """The tick stands, the caution counts as unread; a key under the tick opens it when a cleaner comes after all."""
    page = handset.open(service.url)
    visit = at_work(page)
    tick(page, CLEANED).click()
    page.get_by_role("button", name="water only").click()
    expect(tick(page, CLEANED)).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="read the caution").click()
    page.get_by_role("button", name="read, no clock").click()
    expect(page.locator(".deed", has=tick(page, CLEANED))).to_contain_text("caution read")
    hand_in(page)
    service.stop()
    ops, _ = filed(service, visit)
    assert [op["kind"] for op in ops].count("caution.confirm") == 1


def test_a_second_tap_closes_the_caution_and_leaves_nothing(handset: Phone, service: Service) -> None:
    """A tick that was a slip: nothing is noted, nothing read."""
    page = handset.open(service.url)
    at_work(page)
    tick(page, "Pressure test with nitrogen").click()
    expect(page.get_by_role("group", name="Before nitrogen goes in")).to_be_visible()
    tick(page, "Pressure test with nitrogen").click()
    expect(page.locator(".caution:visible")).to_have_count(0)
    expect(tick(page, "Pressure test with nitrogen")).to_have_attribute("aria-pressed", "false")


def test_hoses_and_cylinders_are_read_at_the_charge(handset: Phone, service: Service) -> None:
    """Both that belong to it in one block; what was read before is not asked again."""
    page = handset.open(service.url)
    visit = at_work(page)
    tick(page, "Charged").click()
    titles = ["Before the hoses go on", "Before a cylinder is connected"]
    expect(page.locator(".caution:visible h3")).to_have_text(titles)
    page.get_by_role("button", name="Read", exact=True).click()
    expect(tick(page, "Charged")).to_have_attribute("aria-pressed", "true")
    tick(page, "Vacuum").click()
    expect(tick(page, "Vacuum")).to_have_attribute("aria-pressed", "true")
    hand_in(page)
    service.stop()
    ops, _ = filed(service, visit)
    assert [op["body"]["code"] for op in ops if op["kind"] == "caution.confirm"] == ["hoses_stopped", "cylinders"]


def test_the_cautions_step_keeps_those_of_a_running_test(handset: Phone, service: Service) -> None:
    """Cleaner and nitrogen do not stand there, whatever was ticked."""
    page = handset.open(service.url)
    at_work(page)
    tick(page, CLEANED).click()
    page.get_by_role("button", name="water only").click()
    go_to(page, "Cautions")
    expect(page.locator(".cautions")).to_contain_text("Wear eye protection and gloves")
    expect(page.locator(".cautions")).not_to_contain_text("Coil cleaners")


@pytest.mark.parametrize("language", ["en-GB", "es-ES"])
def test_a_caution_can_be_read_and_pressed(language: str, service: Service) -> None:
    """axe-core finds nothing in the sun and at dusk, each target is 48 px, nothing runs out at 320, 360 and 430 px."""
    with phone(locale=language, bypass_csp=True) as handset:
        page = handset.open(service.url, paired=False)
        page.locator("#foot .main").click()
        page.wait_for_url(re.compile("/visit/"))
        page.goto(page.url.replace("/customer", "/work"))
        page.locator(".deed .toggle").first.click()
        expect(page.locator(".caution:visible .main")).to_be_visible()
        assert {width: faults_of(page, width) for width in SIZES} == {width: [] for width in SIZES}
