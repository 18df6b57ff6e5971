"""The quick test: ten taps besides digits from the day to a verdict, on the visit that all else belongs to.

A real Chromium, a real service that is stopped, real kills.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.support.browser import Phone, phone
from tests.support.hands import (
    at_rest,
    choose,
    confirm_cautions,
    filed,
    go_to,
    ready_offline,
    start_visit,
    to_day,
    write,
)
from tests.support.quick_hands import Thumb, cell_text, choose_units, set_altitude, start_quick
from tests.support.service import Service

PSI = 6.894757293168  # kPa; NIST SP 811 (2008), appendix B.8
INHG = 3.386389  # kPa; the same
FOUR = ["eyes_hands", "engine_running", "hoses_stopped", "circuit_closed"]
AMERICAN = {"locale": "en-US", "args": ["--accept-lang=en-US,en"]}
BEFORE, AFTER = "92>42>290>58>", "93>38>228>47>"


@pytest.fixture
def american() -> Iterator[Phone]:
    """A phone in psi, °F and feet, for one sitting."""
    with phone(**AMERICAN) as handset:
        yield handset


@pytest.fixture
def lasting_american(tmp_path: Path) -> Iterator[Phone]:
    """The same with a profile on disk, for those that are killed."""
    with phone(tmp_path / "american", **AMERICAN) as handset:
        yield handset


def begun(handset: Phone, service: Service, altitude: str = "0") -> tuple[Page, str]:
    """A quick test of a car with R-134a, at an altitude."""
    page = handset.open(service.url)
    ready_offline(page)
    visit = start_quick(page)
    set_altitude(page, altitude)
    Thumb(page).press("Read. R-134a")
    expect(page.locator("#foot .pad")).to_be_visible()
    return page, visit


def saved(page: Page) -> None:
    """Wait until the page says that it has saved, by whatever clock."""
    expect(page.locator(".saved").first).to_have_text(re.compile("^saved "))
    expect(page.locator("#status")).to_have_class(re.compile("saved"))


def sent(page: Page, service: Service, visit: str) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """The operations and the visit as the desk has them after a send."""
    to_day(page)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).to_contain_text(re.compile(r"delivered to the desk|Nothing to send"))
    at_rest(page)
    service.stop()
    return filed(service, visit)


# The way to a verdict ------------------------------------------------------------------------------------------------


def test_ten_taps_lead_from_the_day_to_a_verdict_with_figures(american: Phone, service: Service) -> None:
    """With altitude and units remembered and no desk: 176.5 psi at sea level condense at 50 °C (122 °F).

    R-134a at 50 °C: 1,318 kPa absolute (NIST REFPROP, as in tests/kernel/test_saturation.py).
    """
    page = american.open(service.url)
    ready_offline(page)
    start_quick(page)
    set_altitude(page, "0")
    to_day(page)
    service.stop()
    page.reload()
    thumb = Thumb(page)
    thumb.press("Quick test")
    thumb.press("Read. R-134a")
    thumb.keys("92>42>176.5>58>=38>150>47")
    live = page.locator(".live")
    expect(live).to_contain_text("Better.")
    thumb.keys(">")
    expect(page.locator(".end .finding")).to_have_text(re.compile("^Better"))
    condensing = page.locator("tr.high_saturation_c td").first.inner_text()
    assert float(condensing) == pytest.approx(122.0, abs=0.2)
    heads = page.locator(".readings thead th + th")
    assert {one.bounding_box()["height"] for one in heads.all()} == {heads.first.bounding_box()["height"]}
    assert heads.first.evaluate("one => one.scrollWidth <= one.clientWidth && one.clientHeight < 30")
    assert thumb.taps <= 10


def test_the_verdict_is_the_result_page_s_own(american: Phone, service: Service) -> None:
    """The same sentence under the table, in the pad's room and on the last step."""
    page, _ = begun(american, service)
    thumb = Thumb(page)
    thumb.keys(BEFORE + AFTER[:-1])
    live = page.locator(".live").inner_text()
    thumb.keys(">")
    shown = page.locator(".end .finding").inner_text()
    thumb.press("Save, show the result")
    expect(page.locator(".result .finding")).to_have_text(shown)
    assert live == shown


def test_a_quick_test_whose_phone_slept_takes_one_tap_more(lasting_american: Phone, service: Service) -> None:
    """Killed between the columns, while the desk is gone: the day leads back, the pad stands on the first cell."""
    page = lasting_american.open(service.url)
    ready_offline(page)
    start_quick(page)
    set_altitude(page, "650")
    to_day(page)
    service.stop()
    thumb = Thumb(page)
    thumb.press("Quick test")
    thumb.press("Read. R-134a")
    thumb.keys(BEFORE)
    saved(page)
    lasting_american.kill()
    page = lasting_american.open(service.url, paired=False)
    again = Thumb(page)
    page.locator(".visits a").click()
    expect(page.locator("#foot .pad")).to_be_visible()
    expect(page.locator(".at button")).to_have_attribute("aria-label", re.compile("^Ambient after"))
    again.keys(AFTER)
    expect(page.locator(".end .finding")).to_have_text(re.compile("^Better"))
    assert thumb.taps + 1 + again.taps <= 11


def test_a_number_that_was_being_typed_is_found_again(lasting_american: Phone, service: Service) -> None:
    """Killed within a second of the last key, with nothing of it an entry yet."""
    page, visit = begun(lasting_american, service)
    Thumb(page).keys("92>42>29")
    saved(page)
    lasting_american.kill()
    page = lasting_american.open(f"{service.url}/visit/{visit}/quick", paired=False)
    expect(page.locator("#foot .pad")).to_be_visible()
    assert [cell_text(page, row, "before") for row in ("Ambient", "Low side", "High side")] == ["92", "42", "29"]
    Thumb(page).cell("High side", "before")
    Thumb(page).keys("0>")
    assert cell_text(page, "High side", "before") == "290"


def test_an_empty_start_leaves_no_visit(american: Phone, service: Service) -> None:
    """Opened, units and altitude set, and left: the day is as empty as it was."""
    page = american.open(service.url)
    start_quick(page)
    set_altitude(page, "650")
    to_day(page)
    expect(page.locator(".visits li")).to_have_count(0)
    expect(page.locator("#tally")).to_contain_text("0 visits captured")


def test_it_is_the_visit_of_the_steps(american: Phone, service: Service) -> None:
    """What was typed stands in the steps, what is typed there stands in the table, and the desk has it all."""
    page, visit = begun(american, service, "650")
    Thumb(page).keys("92>42>290>58>")
    page.get_by_role("button", name="fold away").click()
    page.get_by_role("button", name="Full visit").click()
    go_to(page, "Before")
    expect(page.get_by_label("High side", exact=True)).to_have_value("290")
    go_to(page, "After")
    write(page, "High side", "228")
    saved(page)
    page.goto(f"{service.url}/visit/{visit}/quick")
    expect(page.locator("#foot .pad")).to_be_visible()
    assert cell_text(page, "High side", "after") == "228"
    _, kept = sent(page, service, visit)
    assert kept["place"]["altitude_m"] == pytest.approx(198.12)
    assert kept["vehicle"]["refrigerant"] == "R134a"
    before, after = kept["tests"]
    assert before["readings"]["high_kpa_g"] == pytest.approx(290 * PSI)
    assert after["readings"]["high_kpa_g"] == pytest.approx(228 * PSI)
    assert kept["typed"][f"{before['id']}.low_kpa_g"] == {"text": "42", "unit": "psi"}


# Cautions and the refrigerant ----------------------------------------------------------------------------------------


def test_one_tap_confirms_the_cautions_and_names_the_refrigerant(american: Phone, service: Service) -> None:
    """The codes of the cautions step, each with its instant; that step then has nothing open."""
    page, visit = begun(american, service)
    Thumb(page).keys("92>")
    ops, kept = sent(page, service, visit)
    assert [one["code"] for one in kept["cautions"]] == [*FOUR, "self_start"]
    assert all(one["at"] for one in kept["cautions"])
    assert {op["kind"] for op in ops} >= {"caution.confirm", "visit.set", "visit.open"}


def test_a_flammable_one_asks_one_more(american: Phone, service: Service) -> None:
    """R-1234yf: the first tap confirms the common cautions, a second its own; before that nothing names it."""
    page = american.open(service.url)
    visit = start_quick(page)
    thumb = Thumb(page)
    thumb.press("Read. R-1234yf")
    expect(page.locator(".asked")).to_have_text("One more for R-1234yf")
    expect(page.locator(".bar:visible li")).to_have_count(1)
    thumb.press("Not R-1234yf")
    expect(page.locator(".asked")).to_have_text("What is in the car?")
    thumb.press("R-1234yf")
    thumb.press("Read. R-1234yf")
    expect(page.locator("#foot .pad")).to_be_visible()
    Thumb(page).keys("92>")
    _, kept = sent(page, service, visit)
    assert [one["code"] for one in kept["cautions"]] == [*FOUR, "self_start", "flammable"]
    assert kept["vehicle"]["refrigerant"] == "R1234yf"


def test_the_last_car_s_refrigerant_leads(american: Phone, service: Service) -> None:
    """The next quick test has it first and filled."""
    page = american.open(service.url)
    start_quick(page)
    Thumb(page).press("Read. R-1234yf")
    Thumb(page).press("Read. R-1234yf")
    expect(page.locator("#foot .pad")).to_be_visible()
    to_day(page)
    start_quick(page)
    expect(page.locator("#foot .main")).to_contain_text("Read. R-1234yf")
    expect(page.locator("#foot .main")).to_contain_text("as in the last car")


@pytest.mark.parametrize(("row", "means", "code"), [
    ("R-12", "judged, with more doubt", "R12"), ("R-744", "own gauges · recorded, not judged", "R744"),
    ("R-152a", "burns · recorded, not judged", "R152a"), ("not known", "recorded, not judged", "unknown"),
])
def test_the_others_say_what_they_mean(
    row: str, means: str, code: str, american: Phone, service: Service
) -> None:
    """Each in a panel; a caution of its own is asked for once more."""
    page = american.open(service.url)
    visit = start_quick(page)
    Thumb(page).press("Read. Other")
    line = page.get_by_role("dialog").locator(".panel-row", has_text=re.compile(f"^{row} "))
    expect(line).to_have_text(f"{row} {means}")
    line.click()
    if code != "R12":
        page.locator("#foot .main").click()
    expect(page.locator("#foot .pad")).to_be_visible()
    Thumb(page).keys("92>")
    _, kept = sent(page, service, visit)
    assert kept["vehicle"]["refrigerant"] == code


def test_another_one_has_its_name(american: Phone, service: Service) -> None:
    """Typed once, kept beside the code."""
    page = american.open(service.url)
    visit = start_quick(page)
    Thumb(page).press("Read. Other")
    page.get_by_role("dialog").get_by_text("Another, by name").click()
    page.get_by_label("Name of the refrigerant").fill("R-401B")
    Thumb(page).press("Use this name")
    expect(page.locator(".asked")).to_have_text("Some more for R-401B")
    Thumb(page).press("Read. R-401B")
    expect(page.locator(".facts")).to_contain_text("R-401B")
    Thumb(page).keys("92>")
    _, kept = sent(page, service, visit)
    assert (kept["vehicle"]["refrigerant"], kept["vehicle"]["refrigerant_text"]) == ("other", "R-401B")


def test_a_known_car_offers_its_own(american: Phone, service: Service) -> None:
    """One key, all its cautions at once, and a way out."""
    page = american.open(service.url)
    start_visit(page)
    go_to(page, "Vehicle")
    write(page, "License plate", "ALD 4127")
    choose(page, "Refrigerant in the system", "R-1234yf")
    write(page, "Refrigerant on the label", "R-1234yf")
    go_to(page, "Before")
    page.get_by_role("button", name="Quick test").click()
    expect(page.locator(".asked")).to_have_text("ALD 4127, R-1234yf on its label.")
    expect(page.locator(".bar:visible li")).to_have_count(6)
    expect(page.locator("#foot button")).to_have_count(2)
    Thumb(page).press("Something else is in it")
    expect(page.locator("#foot button")).to_have_count(3)
    Thumb(page).press("Read. R-134a")
    expect(page.locator(".facts")).to_contain_text("ALD 4127 · R-134a")


def test_a_car_that_was_tested_before_is_found(american: Phone, service: Service) -> None:
    """With the desk gone, by a part of its plate or its customer: its refrigerant is the one key; it is that car."""
    page = american.open(service.url)
    first = start_visit(page, "M. Okafor")
    for plate, refrigerant in (("ALD 4127", "R-1234yf"), ("QY 9009", "R-134a")):
        go_to(page, "Vehicle")
        write(page, "License plate", plate)
        choose(page, "Refrigerant in the system", refrigerant)
        to_day(page)
        if plate == "ALD 4127":
            start_visit(page, "I. Varga")
    service.stop()
    visit = start_quick(page)
    page.get_by_role("button", name="find it").click()
    rows = page.get_by_role("dialog").locator(".panel-row")
    expect(rows).to_have_count(2)
    find = page.get_by_label("License plate, VIN, make or customer")
    for typed, found in (("okaf", 1), ("d41", 1), ("zz", 0), ("ald-41", 1)):
        find.fill(typed)
        expect(rows).to_have_count(found)
    expect(rows).to_have_text(re.compile("^ALD 4127 R-1234yf · M. Okafor$"))
    rows.click()
    expect(page.locator(".asked")).to_have_text("ALD 4127, recorded with R-1234yf in it.")
    expect(page.locator(".start .row")).to_have_count(0)
    Thumb(page).press("Read. R-1234yf")
    Thumb(page).keys("92>")
    service.start()
    _, kept = sent(page, service, visit)
    assert kept["vehicle"]["plate"] == "ALD 4127"
    assert kept["vehicle"]["refrigerant"] == "R1234yf"
    assert kept["vehicle"].get("id") == filed(service, first)[1]["vehicle"].get("id")


# Typing --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("case", [
    (("psi", "°F"), "92>2.9", "2.9 psi would evaporate at −7.7 °F. Is it 2.9 bar?", "bar", "2.9 bar"),
    (("psi", "°F"), "92>290", "Is it 290 kPa?", "kpa", "290 kPa"),
    (("kPa", "°C"), "33>42", "Is it 42 psi?", "psi", "42 psi"),
    (("bar", "°C"), "33>42", "Is it 42 psi?", "psi", "42 psi"),
    (("psi", "°F"), "92>35-", "Is it −35 kPa?", "kpa", "−35 kPa"),
])
def test_an_odd_pressure_is_asked_about(
    case: tuple[tuple[str, str], str, str, str, str], american: Phone, service: Service
) -> None:
    """Yes changes this reading alone, keeps what was typed beside it, and no setting."""
    units, keys, words, unit, cell = case
    page, visit = begun(american, service)
    choose_units(page, *units)
    thumb = Thumb(page)
    thumb.keys(keys)
    strip = page.locator(".asking")
    expect(strip).to_contain_text(words.replace(" psi", "\u00a0psi").replace(" kPa", "\u00a0kPa")
                                  .replace(" bar", "\u00a0bar").replace(" °F", "\u00a0°F"))
    thumb.press("Yes")
    expect(strip).to_have_count(0)
    assert cell_text(page, "Low side", "before").replace(" ", "") == cell.replace(" ", "")
    thumb.keys(">")
    expect(page.locator(".facts")).to_contain_text(f"{units[0]}, {units[1]}")
    _, kept = sent(page, service, visit)
    test = kept["tests"][0]
    assert kept["typed"][f"{test['id']}.low_kpa_g"]["unit"] == unit


@pytest.mark.parametrize(("units", "keys", "words"), [
    (("psi", "°F"), "28", "28\u00a0°F would be unusual here. Is it 28\u00a0°C?"),
    (("psi", "°C"), "82", "82\u00a0°C can't be right here. Is it 82\u00a0°F?"),
])
def test_an_odd_temperature_is_kept_by_a_no(
    units: tuple[str, ...], keys: str, words: str, lasting_american: Phone, service: Service
) -> None:
    """And not asked about again, neither at once nor on the way back to it nor after a kill."""
    page, visit = begun(lasting_american, service)
    choose_units(page, *units)
    thumb = Thumb(page)
    thumb.keys(keys + ">")
    expect(page.locator(".asking")).to_contain_text(words)
    thumb.press("No")
    expect(page.locator(".asking")).to_have_count(0)
    thumb.keys(">")
    thumb.cell("Ambient", "before")
    thumb.keys("<")
    expect(page.locator(".at")).to_contain_text(keys[:-1])
    thumb.keys(keys[-1])
    thumb.keys(">")
    thumb.press("No")
    saved(page)
    lasting_american.kill()
    page = lasting_american.open(f"{service.url}/visit/{visit}/quick", paired=False)
    Thumb(page).cell("Ambient", "before")
    page.wait_for_timeout(1500)
    expect(page.locator(".asking")).to_have_count(0)
    assert cell_text(page, "Ambient", "before") == keys


def test_a_usual_reading_is_never_asked_about(american: Phone, service: Service) -> None:
    """Nor while a longer number is still being typed."""
    page, _ = begun(american, service)
    thumb = Thumb(page)
    for key in BEFORE + AFTER[:-1]:
        thumb.keys(key)
        expect(page.locator(".asking")).to_have_count(0)


def test_a_swing_is_both_ends_of_a_compressor_that_cycles(american: Phone, service: Service) -> None:
    """"25 to 45" on the low side; taken back, nothing cycles."""
    page, visit = begun(american, service)
    thumb = Thumb(page)
    thumb.keys("92>25~45>")
    assert cell_text(page, "Low side", "before") == "25 to 45"
    thumb.keys("210~5<<<<<250>58")
    assert cell_text(page, "High side", "before") == "250"
    _, kept = sent(page, service, visit)
    readings = kept["tests"][0]["readings"]
    assert readings["low_kpa_g"] == pytest.approx(25 * PSI)
    assert readings["low_max_kpa_g"] == pytest.approx(45 * PSI)
    assert readings["running"] == "cycling"
    assert "high_max_kpa_g" not in readings


def test_minus_on_psi_is_a_vacuum_in_inches_of_mercury(american: Phone, service: Service) -> None:
    """As the dial has it; the strip says so, and a second tap takes it back."""
    page, visit = begun(american, service)
    thumb = Thumb(page)
    thumb.keys("92>12-")
    expect(page.locator(".strip-line")).to_contain_text("before, inHg")
    assert cell_text(page, "Low side", "before").replace(" ", "") == "−12inHg"
    thumb.keys("-")
    expect(page.locator(".strip-line")).to_contain_text("before, psi")
    thumb.keys("->")
    _, kept = sent(page, service, visit)
    test = kept["tests"][0]
    assert test["readings"]["low_kpa_g"] == pytest.approx(-12 * INHG)
    assert kept["typed"][f"{test['id']}.low_kpa_g"] == {"text": "-12", "unit": "inhg"}


def test_usual_settings_are_recorded_by_their_key_alone(american: Phone, service: Service) -> None:
    """Remembered from the last full test; unpressed nothing is, pressed both tests have them."""
    page = american.open(service.url)
    start_visit(page, "M. Okafor")
    confirm_cautions(page)
    go_to(page, "Before")
    choose(page, "Blower", "high")
    choose(page, "Air", "recirculated")
    write(page, "Air at the condenser", "90")
    to_day(page)
    visit = start_quick(page)
    set_altitude(page, "0")
    thumb = Thumb(page)
    thumb.press("Read. R-134a")
    thumb.keys(BEFORE + AFTER)
    usual = page.locator(".usual")
    expect(usual).to_contain_text("Not recorded: test conditions. Usually blower high and air recirculated.")
    page.reload()
    expect(usual).to_be_visible()
    thumb.press("As usual, both tests")
    expect(usual).to_have_count(0)
    _, kept = sent(page, service, visit)
    assert [test["conditions"]["blower"] for test in kept["tests"]] == ["high", "high"]
    assert [test["conditions"]["air"] for test in kept["tests"]] == ["recirculated", "recirculated"]


def test_the_phone_says_the_altitude_only_when_asked(american: Phone, service: Service) -> None:
    """By the browser's geolocation, in the unit at hand: 198 m are 650 ft (0.3048 m a foot)."""
    page = american.open(service.url)
    assert american.context is not None
    american.context.grant_permissions(["geolocation"], origin=service.url)
    place = {"latitude": 10.0, "longitude": 20.0, "accuracy": 8.0, "altitude": 198.12, "altitudeAccuracy": 9.144}
    american.context.new_cdp_session(page).send("Emulation.setGeolocationOverride", place)
    start_quick(page)
    expect(page.locator(".facts")).to_contain_text("altitude not set")
    page.locator(".facts").get_by_role("button", name="change").click()
    page.get_by_role("button", name="Ask this phone for the altitude").click()
    expect(page.locator(".altitude-cell")).to_have_text("650")
    page.get_by_role("dialog").locator('[data-key="next"]').click()
    expect(page.locator(".facts")).to_contain_text("650\u00a0ft")
