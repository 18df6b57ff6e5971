"""Small things that cost trust: a plate typed another way, an odd figure, a visit of nothing, what a sheet still lacks.

A real Chromium against a real `layby serve`; what was filed is judged by what the desk then holds.
"""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.phone.test_result_page import HOT, read
from tests.phone.test_screens import SMALL_TARGETS, at_twice_the_size, in_both
from tests.support.browser import Phone, phone
from tests.support.hands import choose, confirm_cautions, do, filed, go_to, hand_in, start_visit, to_day, write
from tests.support.service import Service

PLATES = ("LT-482", "LT 482", "lt482", "L T\u2013482")


def with_plate(page: Page, plate: str) -> str:
    """A visit of a car with that plate, left for the day; its id."""
    visit = start_visit(page)
    go_to(page, "Vehicle")
    write(page, "Registration", plate)
    to_day(page)
    return visit


def test_the_day_finds_a_plate_however_it_is_typed(handset: Phone, service: Service) -> None:
    """With and without spaces, hyphens and dashes; a part of it, too, and no other car."""
    page = handset.open(service.url)
    for plate in ("LT-482", "QR 77", "QR 78", "QR 79"):
        with_plate(page, plate)
    for typed in (*PLATES, "t48"):
        page.get_by_label(re.compile("^Find by")).fill(typed)
        expect(page.locator(".visits .next")).to_have_count(1)
        expect(page.locator(".visits .next")).to_have_text(re.compile("LT-482"))
    page.get_by_label(re.compile("^Find by")).fill("-")
    expect(page.locator(".visits li")).to_have_count(1)


def test_a_day_that_redraws_by_itself_leaves_the_search_as_it_is(handset: Phone, service: Service) -> None:
    """The field never leaves the page or loses the keyboard, or letters typed meanwhile would go nowhere."""
    page = handset.open(service.url)
    for plate in ("LT-482", "QR 77", "QR 78", "QR 79"):
        with_plate(page, plate)
    find = page.get_by_label(re.compile("^Find by"))
    find.press_sequentially("LT")
    find.evaluate("one => { one.dataset.held = ''; one.onblur = () => delete one.dataset.held; }")
    tally = page.locator("#tally").element_handle()
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_function("(tally) => !tally.isConnected", arg=tally)
    page.keyboard.type("482")
    expect(find).to_have_value("LT482")
    expect(find).to_have_attribute("data-held", "")
    expect(page.locator(".visits .next")).to_have_text(re.compile("LT-482"))


@pytest.mark.parametrize("typed", PLATES)
def test_a_known_car_is_known_by_its_plate_however_it_is_typed(typed: str, handset: Phone, service: Service) -> None:
    """It is offered while it is typed, and bears the id of the first visit once it stands."""
    page = handset.open(service.url)
    visit = with_plate(page, "LT 482")
    second = start_visit(page)
    go_to(page, "Vehicle")
    write(page, "Registration", typed)
    if typed != "LT 482":
        expect(page.get_by_role("group", name="Registration: entered before").get_by_role("button")).to_have_text(
            "LT 482")
    go_to(page, "Result")
    page.get_by_role("button", name="Finish the visit").click()
    expect(page.get_by_role("button", name="Start a visit")).to_be_visible()
    page.goto(f"{service.url}/visit/{visit}/result")
    page.get_by_role("button", name="Finish the visit").click()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("2 filed, 0 waiting")
    service.stop()
    assert {filed(service, one)[1]["vehicle"]["id"] for one in (visit, second)} == {"plate-LT482"}


def test_an_empty_start_leaves_no_visit(handset: Phone, service: Service) -> None:
    """Looked at from the first step to the last, typed into and emptied again: nothing is kept and nothing counted."""
    page = handset.open(service.url)
    start_visit(page)
    for step in ("Vehicle", "Cautions", "Visual check", "Work", "Result", "Customer and location"):
        go_to(page, step)
    write(page, "Customer", "M")
    page.wait_for_timeout(600)
    page.get_by_label("Customer", exact=True).fill("")
    to_day(page)
    expect(page.get_by_text("No visits yet.")).to_be_visible()
    page.reload()
    expect(page.get_by_text("No visits yet.")).to_be_visible()
    expect(page.locator("#tally")).to_contain_text("0 visits captured")


def test_figures_that_cannot_be_right_are_asked_about_and_kept(handset: Phone, service: Service) -> None:
    """Negative minutes, no engine speed, a year to come: the page asks, and what was typed is filed as it is."""
    page = handset.open(service.url)
    visit = start_visit(page)
    asks = "Outside the usual range?"
    go_to(page, "Vehicle")
    write(page, "Year", "2201")
    expect(page.locator(".reading", has=page.get_by_label("Year", exact=True)).locator(".meaning")).to_have_text(asks)
    write(page, "Year", "2008")
    expect(page.get_by_text(asks)).to_have_count(0)
    confirm_cautions(page)
    go_to(page, "Before")
    for label, text in (("Engine speed", "0"), ("Engine running", "-5")):
        write(page, label, text)
        line = page.locator(".reading", has=page.get_by_label(label, exact=True)).locator(".meaning")
        expect(line).to_contain_text(re.compile("outside the usual range", re.IGNORECASE))
    go_to(page, "Work")
    do(page, "Condenser cleaned")
    page.get_by_label("Applications", exact=True).first.fill("0")
    expect(page.get_by_text(asks)).to_be_visible()
    hand_in(page)
    service.stop()
    _, kept = filed(service, visit)
    [test] = kept["tests"]
    assert (test["conditions"]["rpm"], test["conditions"]["running_min"]) == (0, -5)
    assert kept["work"][0]["cleaner"]["passes"] == 0


def test_the_refrigerant_is_asked_before_a_result_needs_it(handset: Phone, service: Service) -> None:
    """With readings and no refrigerant the main key leads to its field; once it is named there is a result."""
    page = handset.open(service.url)
    start_visit(page)
    write(page, "Altitude", "0")
    confirm_cautions(page)
    read(page, "Before", HOT)
    go_to(page, "Result")
    expect(page.locator(".finding")).to_have_text("No causes are named: the refrigerant isn\u2019t known.")
    page.locator("#foot .main", has_text="Enter the refrigerant").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Vehicle")
    expect(page.get_by_role("group", name="Refrigerant in the system").locator("input").first).to_be_focused()
    choose(page, "Refrigerant in the system", "R-134a")
    go_to(page, "Result")
    expect(page.locator(".finding")).to_contain_text("The high side is too high.")


def test_what_a_sheet_still_lacks_is_a_key_that_leads_to_it(handset: Phone, service: Service) -> None:
    """Each goes to its field and is gone once it is filled; the business is asked once and then stands for all."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    go_to(page, "Result")
    wants = page.locator(".wants button")
    expect(wants).to_have_text(["Outcome", "Price", "Customer's mail address"])
    wants.filter(has_text="mail address").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Customer and location")
    expect(page.get_by_label("Email for the sheet", exact=True)).to_be_focused()
    page.keyboard.type("m.okafor@harbour.example")
    go_to(page, "Result")
    expect(wants).to_have_text(["Outcome", "Price"])
    choose(page, "Outcome", "done")
    expect(wants).to_have_text(["Price"])
    page.get_by_label("Business", exact=True).fill("Alder Coast Mobile Cooling")
    page.get_by_role("button", name="Save the business").click()
    expect(page.get_by_label("Business", exact=True)).to_be_hidden()
    wants.click()
    expect(page.get_by_role("button", name="Add a line")).to_be_in_viewport()
    hand_in(page)
    second = start_visit(page, "I. Varga")
    go_to(page, "Result")
    expect(page.get_by_label("Business", exact=True)).to_be_hidden()
    hand_in(page, 2)
    service.stop()
    for one in (visit, second):
        assert filed(service, one)[1]["technician"]["business"] == "Alder Coast Mobile Cooling"


@pytest.mark.parametrize(("language", "width"), [("en-GB", 320), ("es-ES", 360), ("en-GB", 430)])
def test_the_end_of_the_last_step_is_readable_and_touchable(language: str, width: int, service: Service) -> None:
    """axe-core in sun and dusk, 48 px, 200 %, in both languages."""
    options = {"locale": language, "viewport": {"width": width, "height": 740}, "bypass_csp": True}
    with phone(**options) as handset:
        page = handset.open(service.url, paired=False)
        page.locator("#foot .main").click()
        page.wait_for_url(re.compile("/visit/"))
        page.goto(f"{page.url.rsplit('/', 1)[0]}/result")
        expect(page.locator(".wants button")).to_have_count(3)
        assert in_both(page) == []
        assert page.evaluate(SMALL_TARGETS) == []
        assert at_twice_the_size(page) == []
