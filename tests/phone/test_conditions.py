"""A test's page: four readings first, then the conditions in one line, recorded only by a person's deed.

A real Chromium against a real service; what is recorded is what the desk holds in the end.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.support.browser import Phone
from tests.support.hands import (
    choose,
    confirm_cautions,
    filed,
    go_to,
    hand_in,
    in_unit,
    saved,
    start_visit,
    to_day,
    unfold,
    write,
)
from tests.support.service import Service

PSI, INHG = 6.894757293168, 3.386389  # kPa; NIST SP 811 (2008), appendix B.8
FIRST = ("Air at the condenser", "Low side", "High side", "Centre vent")
USUAL = {"Blower": "high", "Air": "recirculated", "Windows": "open", "Condenser fan": "high", "In direct sun": "yes"}


def ready(page: Page, plate: str = "") -> str:
    """A visit at its test before the work, every caution read; its id."""
    visit = start_visit(page)
    if plate:
        go_to(page, "Vehicle")
        write(page, "Registration", plate)
    confirm_cautions(page)
    go_to(page, "Before")
    return visit


def line(page: Page) -> Locator:
    """The line that says what is recorded of the conditions."""
    return page.locator(".recorded")


def hold(page: Page, conditions: dict[str, str]) -> None:
    """Record conditions one by one."""
    for group, word in conditions.items():
        choose(page, group, word)


def test_the_readings_come_first(handset: Phone, service: Service) -> None:
    """In the order of the hose and the air, at reading size, before anything else; more is folded."""
    page = handset.open(service.url)
    ready(page)
    assert page.locator("main input:visible").evaluate_all(
        "all => all.slice(0, 4).map(one => one.labels[0].textContent)"
    ) == list(FIRST)
    sizes = {page.get_by_label(name, exact=True).evaluate("one => getComputedStyle(one).fontSize") for name in FIRST}
    assert sizes == {"34px"}
    expect(page.get_by_label("Return air", exact=True)).to_be_hidden()
    expect(page.get_by_role("group", name="Blower")).to_be_hidden()
    expect(page.get_by_text("return air, humidity, lines, photo")).to_be_visible()
    write(page, "Return air", "83")
    page.locator("summary", has=page.get_by_text("More", exact=True)).click()
    expect(page.get_by_text("return air 83", exact=True)).to_be_visible()


def test_nothing_is_recorded_until_it_is_said(handset: Phone, service: Service) -> None:
    """As usual fills what is empty from the last test, but not what has to be looked at on the day."""
    page = handset.open(service.url)
    ready(page)
    expect(line(page)).to_have_text("Not recorded yet.")
    expect(page.get_by_role("button", name="As usual")).to_have_count(0)
    hold(page, USUAL)
    write(page, "Engine speed", "2000")
    expect(line(page)).to_have_text(
        re.compile(
            r"^Recorded: high blower, recirculated, 2,000\srpm, condenser fan high, windows open, in the sun\.$"
        )
    )
    write(page, "Low side", "2")
    go_to(page, "Work")
    hand_in(page)

    untouched = ready(page)
    write(page, "Low side", "2")
    usual = r"Usually high blower, recirculated, 2,000\srpm, windows open\.$"
    expect(line(page)).to_have_text(re.compile(rf"^Not recorded yet\. {usual}"))
    go_to(page, "Work")
    to_day(page)

    pressed = ready(page)
    choose(page, "Blower", "low")
    expect(line(page)).to_have_text(re.compile(r"^Recorded: low blower\. Usually recirculated, .*windows open\.$"))
    before = page.get_by_role("button", name="close", exact=True).bounding_box()
    page.get_by_role("button", name="As usual").click()
    expect(page.get_by_role("button", name="As usual")).to_be_hidden()
    after = page.get_by_role("button", name="close", exact=True).bounding_box()
    assert before is not None
    assert after is not None
    assert abs(after["y"] - before["y"]) < 30, "what stands under the key moved away from the finger"
    go_to(page, "Work")
    hand_in(page, 3)
    service.stop()
    assert "conditions" not in filed(service, untouched)[1]["tests"][0]
    assert filed(service, pressed)[1]["tests"][0]["conditions"] == {
        "blower": "low", "air": "recirculated", "windows": "open", "rpm": 2000,
    }  # fmt: skip


def test_usual_is_the_cars_own_before_the_technicians(handset: Phone, service: Service) -> None:
    """The last test of this vehicle, else the last one of all."""
    page = handset.open(service.url)
    for count, (plate, blower) in enumerate((("LT 482", "low"), ("ALD 4127", "high")), start=1):
        ready(page, plate)
        choose(page, "Blower", blower)
        go_to(page, "Work")
        hand_in(page, count)
    ready(page, "LT 482")
    expect(line(page)).to_have_text("Not recorded yet. Usually low blower.")
    to_day(page)
    ready(page, "QY 9009")
    expect(line(page)).to_have_text("Not recorded yet. Usually high blower.")


def test_after_stands_beside_before(handset: Phone, service: Service) -> None:
    """Each reading with the one before the work; all conditions of then are offered, fan and sun too."""
    page = handset.open(service.url)
    visit = ready(page)
    in_unit(page, "psi")
    in_unit(page, "°F")
    for label, text in zip(FIRST, ("92", "-5", "1290", "58,5"), strict=True):
        write(page, label, text)
    hold(page, USUAL)
    go_to(page, "After")
    beside = page.locator(".earlier")
    expect(beside).to_have_text(["92 to", re.compile(r"^−5\sinHg to$"), "1,290 to", "58.5 to"])
    expect(line(page)).to_have_text(re.compile(r"^Not recorded yet\. Before: high blower, .*fan high.*in the sun\.$"))
    write(page, "High side", "228")
    page.get_by_role("button", name="Same as before").click()
    expect(line(page)).to_have_text(re.compile(r"^Recorded: high blower, .*fan high.*in the sun\.$"))
    go_to(page, "Result")
    to_day(page)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    service.stop()
    before, after = filed(service, visit)[1]["tests"]
    assert after["conditions"] == {name: before["conditions"][name] for name in after["conditions"]}
    assert after["conditions"] == {
        "blower": "high", "air": "recirculated", "windows": "open", "fan": "high", "in_sun": True,
    }  # fmt: skip
    assert before["readings"]["low_kpa_g"] == pytest.approx(-5 * INHG, rel=1e-12)
    assert after["readings"] == {"high_kpa_g": pytest.approx(228 * PSI, rel=1e-12)}


def test_readings_stay_shut_until_the_cautions_are_read(handset: Phone, service: Service) -> None:
    """A sentence and a key that leads to them stand in the place of the readings, before and after the work."""
    page = handset.open(service.url)
    start_visit(page)
    for step in ("Before", "After"):
        go_to(page, step)
        expect(page.get_by_text(re.compile(r"^\d cautions apply .* The readings open then\.$"))).to_be_visible()
        expect(page.locator("main input")).to_have_count(0)
    page.get_by_role("button", name="Read the cautions").click()
    page.get_by_role("button", name="Read, everything is in place").click()
    go_to(page, "After")
    expect(page.get_by_label("Low side", exact=True)).to_be_visible()


def test_a_slip_in_what_is_folded_is_seen(handset: Phone, service: Service) -> None:
    """A text that is no number opens the part that it stands in as the step is drawn."""
    page = handset.open(service.url)
    ready(page)
    write(page, "Engine speed", "1,8,0")
    write(page, "Humidity", "4o")
    go_to(page, "Work")
    go_to(page, "Before")
    expect(page.get_by_label("Engine speed", exact=True)).to_be_visible()
    expect(page.get_by_label("Humidity", exact=True)).to_be_visible()


def unit_of(page: Page, label: str) -> Locator:
    """The unit beside a field."""
    field = page.get_by_label(label, exact=True)
    return page.locator(".reading", has=unfold(field)).locator(".unit")


def test_a_unit_is_text_and_is_changed_in_the_settings(handset: Phone, service: Service) -> None:
    """No key beside a field; what was typed keeps the unit it was typed in, until the field is emptied."""
    page = handset.open(service.url)
    ready(page)
    expect(unit_of(page, "High side")).to_have_text("bar")
    expect(page.locator("main button.unit")).to_have_count(0)
    write(page, "High side", "14.8")
    in_unit(page, "psi")
    expect(unit_of(page, "High side")).to_have_text("bar")
    expect(page.get_by_label("High side", exact=True)).to_have_value("14.8")
    expect(unit_of(page, "Low side")).to_have_text("psi")
    field = page.get_by_label("Low side", exact=True)
    field.focus()
    described = field.get_attribute("aria-describedby") or ""
    assert page.locator(f"#{described.split()[0]}").inner_text() == "psi"
    write(page, "High side", "215")
    expect(unit_of(page, "High side")).to_have_text("psi")


def test_a_low_side_below_zero_is_read_as_the_gauge_shows_it(handset: Phone, service: Service) -> None:
    """On psi inches of mercury, in bar and kPa below zero; a key sets the sign where the keypad has none."""
    page = handset.open(service.url)
    visit = ready(page)
    in_unit(page, "psi")
    low = page.get_by_label("Low side", exact=True)
    write(page, "Low side", "-5")
    expect(unit_of(page, "Low side")).to_have_text("inHg")
    page.get_by_role("button", name="Low side, change the sign").click()
    expect(unit_of(page, "Low side")).to_have_text("psi")
    expect(low).to_have_value("5")
    page.get_by_role("button", name="Low side, change the sign").click()
    expect(unit_of(page, "Low side")).to_have_text("inHg")
    saved(page)
    in_unit(page, "bar")
    go_to(page, "After")
    write(page, "Low side", "−0.2")
    expect(unit_of(page, "Low side")).to_have_text("bar")
    go_to(page, "Customer and location")
    expect(unit_of(page, "Air pressure on site")).to_have_text("kPa")
    in_unit(page, "psi")
    expect(unit_of(page, "Air pressure on site")).to_have_text("inHg")
    write(page, "Air pressure on site", "29.2")
    hand_in(page)
    service.stop()
    kept = filed(service, visit)[1]
    first, second = (test["readings"]["low_kpa_g"] for test in kept["tests"])
    assert first == pytest.approx(-5 * INHG, rel=1e-12)
    assert second == pytest.approx(-20)  # 1 bar is 100 kPa
    assert kept["place"]["station_pressure_kpa"] == pytest.approx(29.2 * INHG, rel=1e-12)


FIRST_UNITS: list[tuple[str, dict[str, str]]] = [
    ("en-US", {"Pressures": "psi", "Temperatures": "°F", "Altitude": "ft", "Masses": "oz"}),
    ("en-GB", {"Pressures": "bar", "Temperatures": "°C", "Altitude": "m", "Masses": "g"}),
]


@pytest.mark.parametrize(("region", "units"), FIRST_UNITS)
def test_first_units_are_those_of_the_region(
    handset: Phone, service: Service, region: str, units: dict[str, str]
) -> None:
    """Until the settings say otherwise."""
    handset.options["locale"] = region
    page = handset.open(service.url)
    page.get_by_role("link", name="Settings").click()
    for quantity, unit in units.items():
        chosen = page.get_by_role("group", name=quantity, exact=True).get_by_role("radio", checked=True)
        expect(chosen).to_have_accessible_name(unit)


KEYBOARDS: dict[str, dict[str, str | None]] = {
    "Technician": {"autocapitalize": "words", "enterkeyhint": "next"},
    "Business": {"autocapitalize": "words", "enterkeyhint": "next"},
    "Phone": {"inputmode": "tel", "enterkeyhint": "next"},
    "Email": {"inputmode": "email", "autocapitalize": "none"},
    "Certificate number": {"autocapitalize": "characters"},
    "Currency, three letters": {"autocapitalize": "characters"},
    "Low gauge, class": {"inputmode": "decimal", "enterkeyhint": "next"},
}


def test_the_keyboard_fits_the_field_in_the_settings(handset: Phone, service: Service) -> None:
    """Digits for numbers, an @ for addresses, capitals where they belong; its key leads on."""
    page = handset.open(service.url)
    page.get_by_role("link", name="Settings").click()
    for label, wanted in KEYBOARDS.items():
        for name, value in wanted.items():
            assert page.get_by_label(label, exact=True).get_attribute(name) == value, (label, name)
    page.get_by_label("Technician", exact=True).press("Enter")
    expect(page.get_by_label("Business", exact=True)).to_be_focused()


def test_every_condition_has_words(handset: Phone, service: Service, rulebook: dict[str, Any]) -> None:
    """Whatever is recorded of the conditions is said, whichever it is."""
    page = handset.open(service.url)
    said = """(codes) => import('/page.js').then(({ $language_words: words }) =>
      codes.filter((code) => !words.has(`phone.condition.${code}`)))"""
    rows = rulebook["fields"]["scopes"]["tests"].items()
    held = [path.split(".")[1] for path, row in rows if row.get("held")]
    flags = [path.split(".")[1] for path, row in rows if row.get("held") and row["type"] == "truth"]
    assert len(held) > 5
    assert page.evaluate(said, [*held, *(f"{name}.{code}" for name in flags for code in ("yes", "no"))]) == []
