"""The result on a phone: one main key, which leads to the next check or else to the price; what is folded away.

A real Chromium against a real `layby serve`. Readings are made up.
"""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from tests.support.browser import Phone
from tests.support.hands import choose, confirm_cautions, go_to, start_visit, write
from tests.support.service import Service

HOT = {"Air at the condenser": "28", "Low side": "2.6", "High side": "19.2", "Centre vent": "14"}


def read(page: Page, step: str, readings: dict[str, str]) -> None:
    """Type readings of a test, in bar and °C."""
    go_to(page, step)
    for label, text in readings.items():
        write(page, label, text)


def car(page: Page, refrigerant: str = "R-134a") -> str:
    """A visit with a car on a place at sea level, its cautions confirmed."""
    visit = start_visit(page)
    write(page, "Altitude", "0")
    go_to(page, "Vehicle")
    choose(page, "Refrigerant in the system", refrigerant)
    confirm_cautions(page)
    return visit


def main_key(page: Page) -> str:
    """The words of the main key in the foot."""
    return page.locator("#foot .main").inner_text()


def test_the_main_key_leads_to_the_field_of_the_next_check(handset: Phone, service: Service) -> None:
    """The liquid line is asked on the page of the test, and the finger lands in its field."""
    page = handset.open(service.url)
    car(page)
    read(page, "Before", HOT)
    go_to(page, "Result")
    expect(page.locator(".finding")).to_contain_text("The high side is too high.")
    expect(page.locator("#foot .main")).to_have_text("Measure the liquid line")
    page.locator("#foot .main").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Before")
    expect(page.get_by_label("Liquid line", exact=True)).to_be_focused()
    expect(page.get_by_label("Liquid line", exact=True)).to_be_in_viewport()


def test_without_a_check_the_main_key_leads_to_advice_and_price(handset: Phone, service: Service) -> None:
    """No test yet says so, and the visit can still be finished at the end of the page."""
    page = handset.open(service.url)
    car(page)
    go_to(page, "Result")
    expect(page.locator(".finding")).to_have_text("No test taken yet.")
    page.get_by_role("button", name="Advice and price").click()
    expect(page.locator("main textarea").first).to_be_focused()
    page.get_by_role("button", name="Finish the visit").click()
    expect(page.get_by_role("button", name="Start a visit")).to_be_visible()


def test_what_was_not_taken_is_a_row_with_its_reason(handset: Phone, service: Service) -> None:
    """One gauge, no vent: the sentence says one gauge, the rows what is missing; no reason is empty."""
    page = handset.open(service.url)
    car(page)
    read(page, "Before", {name: HOT[name] for name in ("Air at the condenser", "Low side")})
    go_to(page, "Result")
    expect(page.locator(".finding")).to_contain_text("gauge")
    rows = page.locator(".measure")
    expect(rows).to_have_count(3)
    expect(rows.nth(0)).to_have_text(re.compile("^Vent, centre.*not measured$"))
    expect(rows.nth(1)).to_have_text(re.compile("^High side over ambient.*needs high side$"))


def test_a_refrigerant_without_a_yardstick_is_said(handset: Phone, service: Service) -> None:
    """R-744 is read and shown, and no cause is named of it."""
    page = handset.open(service.url)
    car(page, "R-744")
    read(page, "Before", {"Low side": "35", "Centre vent": "9"})
    go_to(page, "Result")
    expect(page.locator(".finding")).to_have_text("No causes are named: there is no yardstick for this refrigerant.")


def test_every_cause_set_aside_has_its_reason(handset: Phone, service: Service) -> None:
    """Those that are not held open, each with what speaks against it."""
    page = handset.open(service.url)
    car(page)
    read(page, "Before", HOT | {"Liquid line": "45", "Suction line": "14"})
    go_to(page, "Result")
    fold = page.locator("details", has=page.get_by_text(re.compile("^Set aside: ")))
    fold.locator("summary").click()
    rows = fold.get_by_role("listitem")
    expect(rows.first).to_be_visible()
    names = fold.locator("li b").all_inner_texts()
    assert all(len(text) > len(name) for text, name in zip(rows.all_inner_texts(), names, strict=True))
    open_names = page.locator(".bracket").inner_text().lower()
    assert not [name for name in names if name.lower() in open_names]
