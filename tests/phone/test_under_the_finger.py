"""What comes and goes on a test's page moves nothing under a finger: yardsticks, the question about a unit, undo.

A real Chromium against a real `layby serve`; figures are made up, and what is usual is the rulebook's.
"""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.phone.test_conditions import hold, line, ready
from tests.phone.test_screens import SMALL_TARGETS, TOO_WIDE, at_twice_the_size, in_both
from tests.support.browser import Phone, phone
from tests.support.hands import choose, filed, go_to, hand_in, in_unit, meaning, saved, start_visit, to_day, write
from tests.support.quick_hands import Thumb, start_quick
from tests.support.service import Service

# Where each label, key and line stands on the page, and the keys of the foot on the screen [CSS pixels].
PLACES = """() => [...document.querySelectorAll('main label, main .offer, main h2, main summary, #foot .main')]
  .filter((one) => one.getClientRects().length > 0 && one.closest('details:not([open]) > :not(summary)') === null)
  .map((one) => `${one.textContent} ${
    Math.round(one.getBoundingClientRect().top + (one.closest('#foot') ? 0 : scrollY))}`)"""
# Into a field without the focus, which would bring the key of the sign to it.
TYPED = "(one, text) => { one.value = text; one.dispatchEvent(new Event('input')); }"


def known(page: Page) -> str:
    """A car with R-134a at sea level, at its test before the work."""
    visit = start_visit(page)
    write(page, "Altitude", "0")
    go_to(page, "Vehicle")
    choose(page, "Refrigerant in the system", "R-134a")
    go_to(page, "Cautions")
    page.get_by_role("button", name="Read, everything is in place").click()
    go_to(page, "Before")
    return visit


def plain(text: str) -> str:
    """With ordinary spaces."""
    return text.replace("\u00a0", " ")


@pytest.mark.parametrize(("language", "width"), [("en-GB", 320), ("es-ES", 360), ("en-GB", 430)])
def test_a_yardstick_comes_under_its_reading_and_moves_nothing(language: str, width: int, service: Service) -> None:
    """Its room is kept; the sentence stands there where a reading is out of its range. In each language and width."""
    options = {"locale": language, "viewport": {"width": width, "height": 740}, "bypass_csp": True}
    with phone(**options) as handset:
        page = handset.open(service.url, paired=False)
        page.locator("#foot .main").click()
        page.locator("[data-path='place.altitude_m'] input").fill("0")
        page.locator("#foot .main").click()
        page.locator('[data-step="vehicle"]').wait_for()
        page.locator('[data-path="vehicle.refrigerant"] [data-code="R134a"]').click()
        page.locator("#foot .main").click()
        page.locator('[data-step="cautions"]').wait_for()
        page.locator("#foot .main").click()
        expect(page.locator(".cautions .meaning").first).to_have_text(re.compile(r"\d"))
        for step in ("look", "before"):
            page.locator("#foot .main").click()
            page.locator(f'[data-step="{step}"]').wait_for()
        expect(page.locator(".yard")).to_have_count(3)
        inputs = page.locator("main .large input")
        inputs.nth(3).focus()
        empty = page.evaluate(PLACES)
        for place, text in enumerate(("33", "2.9", "20", "14")):
            inputs.nth(place).evaluate(TYPED, text)
        expect(page.locator(".yard svg")).to_have_count(3)
        assert page.evaluate(PLACES) == empty
        inputs.nth(2).evaluate(TYPED, "31")
        expect(page.locator(".high .meaning").first).to_contain_text(re.compile(r"\(.*\)"))
        assert page.evaluate(PLACES) == empty
        inputs.nth(1).evaluate(TYPED, "42")
        expect(page.locator(".asking")).to_be_visible()
        assert page.evaluate(PLACES) == empty
        found = [*in_both(page), *page.evaluate(SMALL_TARGETS), *page.evaluate(TOO_WIDE), *at_twice_the_size(page)]
        assert found == []


def test_an_odd_number_is_asked_about_over_the_keys_of_the_foot(handset: Phone, service: Service) -> None:
    """In every unit alike; yes changes this reading alone, no keeps it and asks no more."""
    page = handset.open(service.url)
    visit = known(page)
    asking = page.locator("#foot .asking")
    for units, label, text, words, key in (
        (("psi", "\u00b0F"), "Low side", "-35", "Is it \u221235 kPa?", "No"),
        ((), "Low side", "2.9", "2.9 psi would evaporate at \u22127.7 \u00b0F. Is it 2.9 bar?", "Yes"),
        ((), "Air at the condenser", "28", "28 \u00b0F would be unusual here. Is it 28 \u00b0C?", "Yes"),
        (("kPa", "\u00b0C"), "Centre vent", "82", "82 \u00b0C can't be right here. Is it 82 \u00b0F?", "No"),
        ((), "High side", "214", "Is it 214 psi?", "Yes"),
        (("bar",), "Low side", "42", "Is it 42 psi?", "Yes"),
        ((), "Liquid line", "115", "115 \u00b0C can't be right here. Is it 115 \u00b0F?", "Yes"),
    ):
        for unit in units:
            in_unit(page, unit)
        write(page, label, text)
        expect(asking).to_be_visible()
        assert words in plain(asking.inner_text()), label
        asking.get_by_role("button", name=key).click()
        expect(asking).to_be_hidden()
        unit_now = page.locator(".reading", has=page.get_by_label(label, exact=True)).locator(".unit").inner_text()
        assert (unit_now in plain(words).rsplit("Is it", 1)[1]) == (key == "Yes"), label
        if key == "No":
            page.get_by_label(label, exact=True).press("End")
            page.wait_for_timeout(1200)
            expect(asking).to_be_hidden()
    hand_in(page)
    service.stop()
    kept = filed(service, visit)[1]
    [test] = kept["tests"]
    typed = {name.split(".")[1]: text for name, text in kept["typed"].items() if name.startswith(test["id"])}
    assert typed["low_kpa_g"] == {"text": "42", "unit": "psi"}
    assert typed["high_kpa_g"] == {"text": "214", "unit": "psi"}
    assert typed["ambient_c"] == {"text": "28", "unit": "c"}
    assert typed["vent_c"] == {"text": "82", "unit": "c"}


def test_as_usual_and_same_as_before_can_be_taken_back_in_their_place(handset: Phone, service: Service) -> None:
    """Until the next reading; a second tap in the same moment does nothing, and the desk has none of it."""
    page = handset.open(service.url)
    visit = ready(page)
    hold(page, {"Blower": "high", "Air": "recirculated"})
    write(page, "Low side", "2")
    go_to(page, "After")
    key, undo = (page.get_by_role("button", name=name, exact=True) for name in ("Same as before", "Undo"))
    place = key.bounding_box()
    key.dblclick()
    expect(line(page)).to_have_text("Recorded: high blower, recirculated.")
    stands = undo.bounding_box()
    assert place is not None
    assert stands is not None
    assert abs(place["y"] - stands["y"]) < 24
    page.wait_for_timeout(800)
    undo.click()
    expect(line(page)).to_have_text("Not recorded yet. Before: high blower, recirculated.")
    key.click()
    expect(undo).to_be_visible()
    write(page, "Low side", "1.9")
    expect(undo).to_be_hidden()
    write(page, "Low side", "")
    choose(page, "Blower", "high")
    choose(page, "Air", "recirculated")
    expect(line(page)).to_contain_text("Not recorded yet.")
    hand_in(page)
    service.stop()
    assert [test.get("conditions") for test in filed(service, visit)[1]["tests"][1:]] in ([], [None], [{}])


def test_a_left_hand_has_its_keys_at_the_left(handset: Phone, service: Service) -> None:
    """Remembered; Steps and the next key change sides, the pad's last column comes first, digits keep their order."""
    page = handset.open(service.url)
    page.get_by_role("link", name="Settings").click()
    choose(page, "Left hand: keys and number pad mirrored", "yes")
    saved(page)
    page.reload()
    expect(page.get_by_role("group", name="Left hand").locator("input").first).to_be_checked()
    page.get_by_role("button", name="Back to all visits").click()
    start_visit(page)
    left = {name: page.locator(name).bounding_box()["x"] for name in ("#foot .steps", "#foot .main")}
    assert left["#foot .main"] < left["#foot .steps"]
    to_day(page)
    start_quick(page)
    Thumb(page).press("Read. R-134a")
    expect(page.locator("#foot .pad")).to_be_visible()
    keys = page.locator("#foot .key").evaluate_all("""all => all.map((one) => {
      const { left, top } = one.getBoundingClientRect();
      return [Math.round(top), Math.round(left), one.dataset.key];
    }).sort(([top, left], [y, x]) => top - y || left - x).map(([, , key]) => key)""")
    assert keys == ["erase", "1", "2", "3", "minus", "4", "5", "6", "next", "7", "8", "9", "point", "0", None]
    assert page.evaluate(SMALL_TARGETS) == []
    assert page.evaluate(TOO_WIDE) == []


def test_a_reading_out_of_its_range_says_so_under_it(handset: Phone, service: Service) -> None:
    """In the result's words, with its own figure; what was read before the work is beside it on After."""
    page = handset.open(service.url)
    known(page)
    for label, text in (("Air at the condenser", "33"), ("High side", "31")):
        write(page, label, text)
    expect(meaning(page, "High side")).to_have_text(re.compile("^High side over ambient .* above the range of healthy"))
    go_to(page, "After")
    expect(page.locator(".yard svg")).to_have_count(0)
    for label, text in (("Air at the condenser", "33"), ("High side", "15")):
        write(page, label, text)
    expect(page.locator(".yard .ring")).to_have_count(1)
    expect(page.locator(".yard .dot")).to_have_count(1)
