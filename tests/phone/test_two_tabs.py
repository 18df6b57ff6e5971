"""Two tabs on one visit: the second says so, and takes the visit over only when it is told; nothing typed is lost.

A real Chromium against a real `layby serve`.
"""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from tests.phone.test_screens import SMALL_TARGETS, at_twice_the_size, in_both
from tests.support.browser import Phone, phone
from tests.support.hands import filed, go_to, hand_in, start_visit, to_day, write
from tests.support.service import Service


def another(handset: Phone, url: str) -> Page:
    """Another tab of the same browser on an address."""
    assert handset.context is not None
    page = handset.context.new_page()
    handset.watch(page)
    page.goto(url)
    return page


def test_the_second_tab_says_so_and_takes_over_when_told(handset: Phone, service: Service) -> None:
    """What the first was typing is kept before it lets go; it then says the same in its place, and can take it back."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    other = another(handset, f"{service.url}/visit/{visit}/customer")
    expect(other.get_by_role("heading", level=1)).to_have_text("Open in another tab")
    expect(page.get_by_label("Customer", exact=True)).to_have_value("M. Okafor")
    page.get_by_label("Phone", exact=True).press_sequentially("555-0123")
    other.get_by_role("button", name="Continue here").click()
    expect(other.get_by_role("heading", level=1)).to_have_text("Customer and location")
    expect(other.get_by_label("Phone", exact=True)).to_have_value("555-0123")
    expect(page.get_by_role("heading", level=1)).to_have_text("Open in another tab")
    write(other, "Vehicle location", "Wren Lane 4")
    page.get_by_role("button", name="Continue here").click()
    expect(page.get_by_label("Vehicle location", exact=True)).to_have_value("Wren Lane 4")
    hand_in(page)
    service.stop()
    _, kept = filed(service, visit)
    assert (kept["customer"]["phone"], kept["place"]["label"]) == ("555-0123", "Wren Lane 4")
    assert handset.complaints == []


def test_a_visit_that_is_left_or_closed_can_be_opened_elsewhere(handset: Phone, service: Service) -> None:
    """By its key, by closing the tab; and a page that is loaded anew never finds itself in its own way."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    go_to(page, "Vehicle")
    page.reload()
    expect(page.get_by_role("heading", level=1)).to_have_text("Vehicle")
    to_day(page)
    other = another(handset, f"{service.url}/visit/{visit}/vehicle")
    expect(other.get_by_role("heading", level=1)).to_have_text("Vehicle")
    other.close()
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    expect(page.get_by_role("heading", level=1)).to_have_text("Vehicle")


def test_two_visits_in_two_tabs_know_nothing_of_each_other(handset: Phone, service: Service) -> None:
    """Each tab has its own."""
    page = handset.open(service.url)
    start_visit(page, "M. Okafor")
    other = another(handset, service.url)
    start_visit(other, "I. Varga")
    expect(page.get_by_role("heading", level=1)).to_have_text("Customer and location")


def test_the_screen_that_says_so_can_be_read_and_left(service: Service) -> None:
    """axe-core in sun and dusk, 48 px, 200 %; and a way back to the day."""
    with phone(bypass_csp=True) as handset:
        page = handset.open(service.url)
        visit = start_visit(page, "M. Okafor")
        other = another(handset, f"{service.url}/visit/{visit}/customer")
        expect(other.get_by_role("button", name="Continue here")).to_be_visible()
        assert in_both(other) == []
        assert other.evaluate(SMALL_TARGETS) == []
        assert at_twice_the_size(other) == []
        other.get_by_role("button", name="Back to all visits").click()
        expect(other).to_have_url(re.compile(r"/$"))
