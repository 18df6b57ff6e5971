"""What the phone calculates and offers while a person types: bills, weighed masses, VINs, records written earlier.

A real Chromium against a real desk; VINs are compared with the regulation.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from playwright.sync_api import expect

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
    unfold,
    write,
)
from tests.support.service import Service

# 49 CFR 565.15: the regulation's example; tenth character 5 and a digit in the seventh place: model year 2005.
EXAMPLE = "1G4AH59H45G118341"
# Made up; begins with W (ISO 3780: Europe), and its ninth character isn't a check digit.
EUROPEAN = "WAAZZZ8K9BA000001"


def test_price_lines_are_typed_told_and_filed(handset: Phone, service: Service) -> None:
    """Two lines of 100 at 20 % and 50 at 10 %, 10 off: 163.34 (added up by hand in the desk's tests).

    A line that is changed, and changed back, keeps its place.
    """
    page = handset.open(service.url)
    visit = start_visit(page)
    go_to(page, "Result")
    page.get_by_text("nothing charged yet").click()
    for index, (what, each, tax) in enumerate((("Condenser cleaned", "100", "20"), ("Filter", "50,00", "10")), start=1):
        page.get_by_role("button", name="Add a line").click()
        line = page.get_by_role("group", name=f"Line {index}")
        line.get_by_label("Item").fill(what)
        line.get_by_label("Unit price, excl. tax").fill(each)
        line.get_by_label("Tax", exact=True).fill(tax)
    write(page, "Discount", "10")
    write(page, "Currency", "eur")
    choose(page, "Payment method", "cash")
    expect(page.locator(".price summary .meaning")).to_have_text("Total, EUR 163.34")
    expect(page.locator(".bill")).to_contain_text("Tax 20 % on 93.3318.67")
    page.get_by_role("button", name="Add a line").click()
    page.get_by_role("group", name="Line 3").get_by_label("Item").fill("A slip")
    go_to(page, "Vehicle")
    go_to(page, "Result")
    page.get_by_text("Total, EUR 163.34").click()
    page.get_by_role("group", name="Line 3").get_by_role("button", name="Delete this line").click()
    expect(page.get_by_role("group", name=re.compile("^Line "))).to_have_count(2)
    page.get_by_role("group", name="Line 1").get_by_label("Quantity").fill("2")
    write(page, "Distance driven", "12")
    go_to(page, "Vehicle")
    go_to(page, "Result")
    page.locator(".price summary").click()
    first = page.get_by_role("group", name="Line 1")
    expect(first.get_by_label("Item")).to_have_value("Condenser cleaned")
    first.get_by_label("Quantity").fill("")
    go_to(page, "Vehicle")
    hand_in(page)
    status, _, _ = service.get(f"/sheets/{visit}.pdf")
    assert status == 200
    service.stop()
    _, kept = filed(service, visit)
    lines = [{name: value for name, value in line.items() if name != "id"} for line in kept["charges"]]
    assert lines == [
        {"text": "Condenser cleaned", "unit_price": "100", "tax_pct": "20"},
        {"text": "Filter", "unit_price": "50.00", "tax_pct": "10"},
    ]
    assert (kept["discount"], kept["currency"], kept["paid"]["method"]) == ("10", "EUR", "cash")
    assert kept["paid"]["at"]
    assert kept["distance_km"] == 12


def test_a_cylinder_gives_the_mass_and_is_questioned_when_it_disagrees(handset: Phone, service: Service) -> None:
    """8000 g before and 7570 g after charging: 430 g; another mass stays and is questioned; so are swapped weights."""
    page = handset.open(service.url)
    start_visit(page)
    go_to(page, "Work")
    do(page, "Charged")
    charged = page.get_by_role("group", name="Charged", exact=True)
    charged.get_by_label("Cylinder before", exact=True).fill("8000")
    charged.get_by_label("Cylinder after", exact=True).fill("7570")
    expect(charged.get_by_label("Mass", exact=True)).to_have_value("430")
    expect(charged.get_by_role("status")).to_have_text("By the cylinder: 430 g.")
    charged.get_by_label("Mass", exact=True).fill("500")
    expect(charged.get_by_role("status")).to_have_text("By the cylinder: 430 g. Entered: 500 g. Which one is right?")
    charged.get_by_label("Cylinder after", exact=True).fill("8430")
    expect(charged.get_by_role("status")).to_contain_text("got heavier. Are before and after swapped?")
    expect(charged.get_by_label("Mass", exact=True)).to_have_value("500")
    saved(page)


def test_a_vin_says_its_year_and_where_it_may_not_be_checked(handset: Phone, service: Service) -> None:
    """The regulation's example fits and is from 2005; a slip in it is named; a European number has no check digit."""
    page = handset.open(service.url)
    start_visit(page)
    go_to(page, "Vehicle")
    write(page, "VIN", EXAMPLE)
    expect(page.get_by_text("The check digit is correct. Model year 2005.")).to_be_visible()
    expect(page.get_by_label("Year", exact=True)).to_have_value("2005")
    write(page, "VIN", EXAMPLE[:-2] + "31")
    expect(page.get_by_text("The check digit is wrong. Check the number again.")).to_be_visible()
    write(page, "VIN", EUROPEAN)
    expect(page.get_by_text("Not a North American VIN")).to_be_visible()
    write(page, "Year", "2011")
    write(page, "VIN", EXAMPLE)
    expect(page.get_by_label("Year", exact=True)).to_have_value("2011")


# The browser's part: Chromium has no barcode reader on this system, so one that reads every picture the same is used.
READER = "window.BarcodeDetector = class { async detect() { return [{ rawValue: 'I" + EXAMPLE + "' }]; } };"


def test_the_barcode_key_is_there_where_the_browser_reads_barcodes(
    handset: Phone, service: Service, tmp_path: Path
) -> None:
    """Without a reader there is no key; with one its number is taken, without the letter of an imported vehicle."""
    from PIL import Image

    page = handset.open(service.url)
    visit = start_visit(page)
    go_to(page, "Vehicle")
    expect(page.get_by_text("Scan the barcode")).to_have_count(0)
    page.add_init_script(READER)
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    picture = tmp_path / "plate.png"
    Image.new("RGB", (40, 20)).save(picture)
    page.get_by_label("Scan the barcode").set_input_files(str(picture))
    expect(page.get_by_label("VIN", exact=True)).to_have_value(EXAMPLE)


def test_customers_and_vehicles_are_offered_from_the_phones_own_records(handset: Phone, service: Service) -> None:
    """Two letters of a name offer the earlier customer with everything known, and then that customer's vehicle."""
    page = handset.open(service.url)
    first = start_visit(page, "M. Okafor")
    write(page, "Phone", "555-0123")
    go_to(page, "Vehicle")
    write(page, "Registration", "LT 482")
    write(page, "Model and colour", "blue estate")
    write(page, "Odometer", "84120")
    choose(page, "Refrigerant in the system", "R-134a")
    write(page, "Charge", "480")
    to_day(page)
    second = start_visit(page, "ok")
    page.get_by_role("button", name="M. Okafor, 555-0123").click()
    expect(page.get_by_label("Customer", exact=True)).to_have_value("M. Okafor")
    expect(page.get_by_label("Phone", exact=True)).to_have_value("555-0123")
    go_to(page, "Vehicle")
    page.get_by_role("button", name="LT 482, blue estate").first.click()
    expect(page.get_by_label("Registration", exact=True)).to_have_value("LT 482")
    expect(page.get_by_label("Odometer", exact=True)).to_have_value("")
    expect(page.get_by_role("button", name="LT 482, blue estate")).to_have_count(0)
    go_to(page, "Work")
    hand_in(page, 2)
    service.stop()
    earlier, later = filed(service, first)[1], filed(service, second)[1]
    assert later["customer"] == earlier["customer"]
    assert later["vehicle"] == {name: value for name, value in earlier["vehicle"].items() if name != "odometer_km"}


def test_what_changes_no_verdict_is_not_asked(handset: Phone, service: Service) -> None:
    """The sides' vents once the centre was read; command, charging and mode only of the vehicles that have them."""
    page = handset.open(service.url)
    start_visit(page)
    confirm_cautions(page)
    go_to(page, "Before")
    unfold(page.get_by_label("Left vent", exact=True))
    unfold(page.get_by_role("group", name="Blower", include_hidden=True))
    expect(page.get_by_label("Left vent", exact=True)).to_be_hidden()
    write(page, "Centre vent", "5")
    expect(page.get_by_label("Left vent", exact=True)).to_be_visible()
    expect(page.get_by_label("Compressor command", exact=True)).to_be_hidden()
    expect(page.get_by_role("group", name="Charging", exact=True)).to_be_hidden()
    go_to(page, "Vehicle")
    choose(page, "Powertrain", "electric")
    choose(page, "Compressor", "electric")
    confirm_cautions(page)
    go_to(page, "Before")
    unfold(page.get_by_label("Compressor command", exact=True))
    unfold(page.get_by_role("group", name="Blower", include_hidden=True))
    expect(page.get_by_label("Compressor command", exact=True)).to_be_visible()
    expect(page.get_by_role("group", name="Charging", exact=True)).to_be_visible()


def test_every_code_a_person_may_tap_has_its_words_in_the_rulebook(rulebook: dict[str, Any]) -> None:
    """A code without words would show its underscores."""
    words = rulebook["words"]["en"]["terms"]
    for book, codes in rulebook["vocabularies"].items():
        if book != "about":
            assert set(codes) <= set(words.get(book, {})), book


def test_a_visit_opens_where_it_stands(handset: Phone, service: Service) -> None:
    """At the step that the day names: cautions to confirm, then the test before, then the work."""
    page = handset.open(service.url)
    start_visit(page, "M. Okafor")
    go_to(page, "Vehicle")
    write(page, "Registration", "LT 482")
    for waits, step in (("cautions to confirm", "Cautions"), ("still to do: test before the work", "Before")):
        to_day(page)
        expect(page.locator(".next")).to_contain_text(waits)
        page.get_by_role("link", name="M. Okafor").click()
        expect(page.get_by_role("heading", level=1)).to_have_text(step)
        if step == "Cautions":
            confirm_cautions(page)
    write(page, "Centre vent", "7")
    to_day(page)
    page.get_by_role("link", name="M. Okafor").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Work")


def test_nothing_moves_away_from_the_finger(handset: Phone, service: Service) -> None:
    """When a temperature is left, what is below it stays where it is, and a key there is hit."""
    page = handset.open(service.url)
    start_visit(page)
    confirm_cautions(page)
    go_to(page, "Before")
    write(page, "Centre vent", "7")
    key = page.get_by_role("button", name="Log these readings now")
    place = key.bounding_box()
    page.evaluate("document.activeElement.blur()")
    assert key.bounding_box() == place
