"""The maker's chart on the phone: typed without a desk, kept through a kill, carried on and offered for similar cars.

A real Chromium against a real `layby serve`; the desk's records show what was kept. Charts are made up.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.phone.test_changes import HELD, file, heads, send
from tests.phone.test_screens import SMALL_TARGETS, TOO_WIDE, at_twice_the_size, in_both
from tests.support.browser import Phone, phone
from tests.support.hands import choose, filed, go_to, hand_in, ready_offline, saved, start_visit, to_day, write
from tests.support.ops import Phone as Other
from tests.support.service import Service
from tests.support.walk import photograph

PSI = 6.894757293168  # kPa; NIST SP 811 (2008), appendix B.8
CHART: dict[str, Any] = {
    "source": "Workshop manual, page 12", "rpm": 1500, "blower": "high",
    "rows": [{"ambient_c": 30, "low_kpa_g": [150, 250], "high_kpa_g": [1370, 1570]}, {"ambient_c": 35}],
}


def fold_out(page: Page) -> Locator:
    """Open the chart, which is folded at first; its block."""
    block = page.locator("details", has=page.get_by_text("Maker's chart", exact=True))
    block.locator("summary").click()
    return block


def row(page: Page, number: int, **figures: str) -> None:
    """Type into the cells of a row, `low_from` into "Low side, from"."""
    labels = {"ambient": "Outside air", "low_from": "Low side, from", "low_to": "Low side, to", "vent_to": "Vent, to",
              "high_from": "High side, from", "high_to": "High side, to", "vent_from": "Vent, from"}
    group = page.get_by_role("rowgroup", name=f"Row {number}", exact=True)
    for name, text in figures.items():
        cell = group.get_by_label(labels[name], exact=True)
        cell.fill("")
        cell.press_sequentially(text)


def turn(page: Page, quantity: str, unit: str) -> None:
    """Press the key over the table until all figures of a quantity are in a unit."""
    key = page.get_by_role("button", name=re.compile(f"^{quantity} in "))
    for _ in range(4):
        if key.inner_text() == f"{quantity} in {unit}":
            return
        key.click()
    raise AssertionError(f"{quantity} are never in {unit}")


def own_car(page: Page, plate: str, year: str = "2008", model: str = "Gannet") -> None:
    """Plate, make, model and year on the step of the vehicle."""
    go_to(page, "Vehicle")
    for label, text in (("Registration", plate), ("Make", "Wren"), ("Model and colour", model), ("Year", year)):
        write(page, label, text)


def held(page: Page, visit: str) -> dict[str, Any]:
    """The vehicle as the phone has it."""
    vehicle: dict[str, Any] = page.evaluate(HELD, visit)["visit"].get("vehicle", {})
    return vehicle


def offers(page: Page) -> Locator:
    """The charts of similar cars."""
    return page.get_by_role("group", name="Charts of the same make, model and year").get_by_role("button")


def test_a_chart_is_typed_with_the_desk_dead_and_outlives_the_browser(lasting: Phone, service: Service) -> None:
    """In psi and °F, half of it before the phone dies; corrected where a range runs backwards; one value, one entry."""
    page = lasting.open(service.url)
    ready_offline(page)
    service.kill()
    page.reload()
    visit = start_visit(page, "M. Okafor")
    go_to(page, "Vehicle")
    fold_out(page)
    write(page, "Source", "Workshop manual, page 12")
    choose(page, "Blower", "high")
    turn(page, "Temperatures", "°F")
    turn(page, "Pressures", "psi")
    row(page, 1, ambient="86", low_from="36.5", low_to="22", high_from="199", high_to="228")
    expect(page.get_by_text("Row 1, low side: The first figure is above the second.")).to_be_visible()
    saved(page)
    lasting.kill()

    page = lasting.open(f"{service.url}/visit/{visit}/vehicle")
    block = fold_out(page)
    expect(block.locator("summary")).to_contain_text("incomplete \u00b7 1 row, Workshop manual, page 12")
    row(page, 1, low_from="22", low_to="36.5")
    page.get_by_role("button", name="Add a row").click()
    row(page, 2, low_from="25")
    go_to(page, "Cautions")
    assert "chart" not in held(page, visit)
    go_to(page, "Vehicle")
    fold_out(page)
    expect(page.get_by_text("Row 2, low side: Enter both ends.")).to_be_visible()
    expect(page.get_by_text("Row 2, outside air: Enter the temperature that this row is for.")).to_be_visible()
    row(page, 2, ambient="95", low_to="38", vent_from="48,5", vent_to="52")
    page.get_by_role("button", name="Add a row").click()
    row(page, 3, ambient="104")
    row(page, 1, ambient="", low_from="", low_to="", high_from="", high_to="")
    go_to(page, "Result")
    page.get_by_role("button", name="Finish the visit").click()
    service.start()
    send(page)
    service.stop()
    ops, kept = filed(service, visit)
    chart = kept["vehicle"]["chart"]
    assert (chart["source"], chart["blower"], len(chart["rows"])) == ("Workshop manual, page 12", "high", 2)
    first, second = chart["rows"]
    assert first["ambient_c"] == pytest.approx((95 - 32) / 1.8, abs=1e-9)
    assert first["low_kpa_g"] == pytest.approx([25 * PSI, 38 * PSI], rel=1e-12)
    assert first["vent_c"] == pytest.approx([(48.5 - 32) / 1.8, (52 - 32) / 1.8], abs=1e-9)
    assert list(second) == ["ambient_c"]
    assert sum("chart" in op["body"].get("vehicle", {}) for op in ops) == 1


def test_a_chart_in_one_place_changed_stays_in_all_others(handset: Phone, service: Service) -> None:
    """Filed in kPa from elsewhere and shown in psi: a cell that isn't typed over keeps its value to the last digit."""
    page = handset.open(service.url)
    visit = start_visit(page)
    own_car(page, "LT 482")
    go_to(page, "Cautions")
    to_day(page)
    send(page)
    other = Other("beef", ms=2_000_000_000_000)
    base = {"/vehicle/chart": None}
    file(service, other.op(visit, "visit.set", {"vehicle": {"chart": CHART}}, base))
    send(page)
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    block = fold_out(page)
    expect(block.locator("summary")).to_contain_text("2 rows, Workshop manual, page 12")
    before = heads(page, visit)["/vehicle/chart"]
    first = block.get_by_role("rowgroup", name="Row 1", exact=True)
    turn(page, "Pressures", "psi")
    # 150 kPa are 21.7557 psi by NIST SP 811 (2008), appendix B.8.
    expect(first.get_by_label("Low side, from", exact=True)).to_have_value("21.7557")
    go_to(page, "Cautions")
    assert heads(page, visit)["/vehicle/chart"] == before
    go_to(page, "Vehicle")
    block = fold_out(page)
    # The unit that the chart is printed in is this phone's to remember.
    expect(page.get_by_role("button", name="Pressures in psi")).to_be_visible()
    block.get_by_role("rowgroup", name="Row 1").get_by_label("High side, to", exact=True).fill("232")
    go_to(page, "Cautions")
    changed = held(page, visit)["chart"]
    assert changed["rows"][0]["low_kpa_g"] == [150, 250]
    assert changed["rows"][0]["high_kpa_g"][0] == 1370
    assert changed["rows"][0]["high_kpa_g"][1] == pytest.approx(232 * PSI, rel=1e-12)
    go_to(page, "Vehicle")
    block = fold_out(page)
    for label in ("Source", "Engine speed"):
        block.get_by_label(label, exact=True).fill("")
    choose(page, "Blower", "high")
    row(page, 1, ambient="", low_from="", low_to="", high_from="", high_to="")
    row(page, 2, ambient="")
    go_to(page, "Cautions")
    assert "chart" not in held(page, visit)


def test_a_chart_comes_with_its_vehicle_and_is_offered_for_cars_alike(handset: Phone, service: Service) -> None:
    """The same car has it at its next visit, another of the model once a person takes it, one of another year never."""
    page = handset.open(service.url)
    start_visit(page)
    own_car(page, "LT 482", model="Gan net")
    block = fold_out(page)
    expect(offers(page)).to_have_count(0)
    block.get_by_label("Source", exact=True).fill("Workshop manual, page 12")
    row(page, 1, ambient="30", low_from="150", low_to="250")
    go_to(page, "Result")
    page.get_by_role("button", name="Finish the visit").click()
    same = start_visit(page)
    go_to(page, "Vehicle")
    write(page, "Registration", "lt-482")
    go_to(page, "Cautions")
    [entry] = held(page, same)["chart"]["rows"]
    assert list(entry) == ["ambient_c", "low_kpa_g"]
    to_day(page)
    alike = start_visit(page)
    own_car(page, "QR 77", year="2009")
    expect(offers(page)).to_have_count(0)
    write(page, "Year", "2008")
    expect(offers(page)).to_have_text(["Use the chart of another 2008 Wren Gannet: 1 row, Workshop manual, page 12"])
    go_to(page, "Cautions")
    assert "chart" not in held(page, alike)
    go_to(page, "Vehicle")
    offers(page).click()
    expect(offers(page)).to_have_count(0)
    go_to(page, "Cautions")
    assert held(page, alike)["chart"] == held(page, same)["chart"]
    # A person who clears it isn't given it again.
    go_to(page, "Vehicle")
    block = fold_out(page)
    block.get_by_label("Source", exact=True).fill("")
    row(page, 1, ambient="", low_from="", low_to="")
    expect(offers(page)).to_have_count(1)
    go_to(page, "Cautions")
    go_to(page, "Vehicle")
    assert "chart" not in held(page, alike)
    # Once the second car is known too, a slip in the plate brings the first one's chart; corrected, it takes it away.
    go_to(page, "Result")
    page.get_by_role("button", name="Finish the visit").click()
    mistaken = start_visit(page)
    go_to(page, "Vehicle")
    write(page, "Registration", "LT 482")
    go_to(page, "Cautions")
    assert "chart" in held(page, mistaken)
    go_to(page, "Vehicle")
    write(page, "Registration", "QR 77")
    go_to(page, "Cautions")
    assert "chart" not in held(page, mistaken)


def test_the_desk_tells_a_phone_the_chart_of_a_vehicle(handset: Phone, service: Service) -> None:
    """Entered on another phone, told once this phone names the vehicle, written into its next visit by an entry."""
    other = Other("beef")
    there = other.new_id()
    body = {"vehicle": {"id": "plate-LT482", "plate": "LT 482", "chart": CHART}}
    base = {f"/vehicle/{name}": None for name in body["vehicle"]}
    file(service, other.opening(there), other.op(there, "visit.set", body, base))
    page = handset.open(service.url)
    visit = start_visit(page)
    go_to(page, "Vehicle")
    write(page, "Registration", "LT 482")
    go_to(page, "Result")
    page.get_by_role("button", name="Finish the visit").click()
    send(page)
    assert "chart" not in held(page, visit)
    second = start_visit(page)
    go_to(page, "Vehicle")
    write(page, "Registration", "LT 482")
    go_to(page, "Cautions")
    assert held(page, second)["chart"] == CHART
    assert len(heads(page, second)["/vehicle/chart"]) == 1
    to_day(page)
    send(page)
    service.stop()
    assert filed(service, second)[1]["vehicle"]["chart"] == CHART


@pytest.mark.parametrize(("language", "width"), [("en-GB", 320), ("es-ES", 360), ("en-GB", 430)])
def test_the_table_fits_and_can_be_touched(language: str, width: int, service: Service) -> None:
    """axe-core in sun and dusk, cells of 48 px, nothing beyond the edge; a kept figure has the language's own sign."""
    options = {"locale": language, "viewport": {"width": width, "height": 740}, "bypass_csp": True}
    with phone(**options) as handset:
        page = handset.open(service.url, paired=False)
        page.locator("#foot .main").click()
        page.wait_for_url(re.compile("/visit/"))
        visit = page.url.rsplit("/", 1)[0]
        page.goto(f"{visit}/vehicle")
        block = page.locator("details", has=page.locator("table.cells"))
        block.locator("summary").click()
        ambient, low, high = (block.locator("tbody input").nth(place) for place in (0, 2, 3))
        for cell, text in ((ambient, "30.5"), (low, "150"), (high, "x")):
            cell.fill(text)
        assert in_both(page) == []
        assert page.evaluate(SMALL_TARGETS) == []
        assert page.evaluate(TOO_WIDE) == []
        assert at_twice_the_size(page) == []
        high.fill("250")
        page.locator("#foot .main").click()
        expect(block).to_have_count(0)
        page.goto(f"{visit}/vehicle")
        block.locator("summary").click()
        expect(ambient).to_have_value("30,5" if language.startswith("es") else "30.5")


def test_a_chart_is_photographed_for_the_desk(handset: Phone, service: Service) -> None:
    """Its photo bears a role of its own and is filed like any other."""
    page = handset.open(service.url)
    visit = start_visit(page)
    go_to(page, "Vehicle")
    photograph(page, "maker\u2019s chart")
    hand_in(page)
    service.stop()
    assert [one["role"] for one in filed(service, visit)[1]["photos"]] == ["chart"]
