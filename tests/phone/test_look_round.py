"""The look round: each thing with its two answers in their own words, told apart by shape and weight, and a note.

A real Chromium against a real `layby serve`; what was said is judged by what the desk then holds.
"""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.phone.test_screens import SMALL_TARGETS, TOO_WIDE, at_twice_the_size, in_both
from tests.support.browser import Phone, phone
from tests.support.hands import choose, filed, go_to, hand_in, start_visit
from tests.support.service import Service

THINGS = 19


def look_round(page: Page) -> str:
    """Start a visit and go to its look round; its id."""
    visit = start_visit(page)
    go_to(page, "Visual check")
    return visit


def test_each_thing_has_two_answers_of_its_own(handset: Phone, service: Service) -> None:
    """Nothing is chosen, no answer says "ok" or "fault", and none is for what was not looked at."""
    page = handset.open(service.url)
    look_round(page)
    rows = page.locator(".check")
    expect(rows).to_have_count(THINGS)
    expect(page.locator(".check input:checked")).to_have_count(0)
    said = {}
    for row in rows.all():
        answers = row.locator(".choice").all_inner_texts()
        assert len(answers) == 2
        assert len(set(answers)) == 2
        assert not {"ok", "fault", "not checked"} & set(answers)
        said[row.locator("legend").inner_text()] = answers
    assert said["Oil stains"] == ["none", "found"]
    assert said["Condenser fan"] == ["turns", "doesn\u2019t turn"]


def test_an_answer_is_taken_back_by_its_own_tap_and_a_note_goes_with_it(handset: Phone, service: Service) -> None:
    """A fault with a note, a thing in order, and one that was looked at by mistake, which leaves nothing."""
    page = handset.open(service.url)
    visit = look_round(page)
    choose(page, "Condenser face", "dirty")
    page.get_by_role("button", name="Condenser face, add a note").click()
    page.keyboard.type("leaves, lower half")
    choose(page, "Condenser fan", "turns")
    choose(page, "Belt", "sound")
    choose(page, "Belt", "sound")
    expect(page.get_by_role("group", name="Belt").locator("input:checked")).to_have_count(0)
    go_to(page, "Cautions")
    go_to(page, "Visual check")
    expect(page.get_by_label("Condenser face, note")).to_have_value("leaves, lower half")
    expect(page.get_by_label("Condenser fan, note")).to_be_hidden()
    hand_in(page)
    service.stop()
    checks = {one["code"]: one for one in filed(service, visit)[1]["checks"]}
    assert set(checks) == {"face_clean", "fan_runs"}
    assert (checks["face_clean"]["state"], checks["face_clean"]["note"]) == ("fault", "leaves, lower half")
    assert checks["fan_runs"]["state"] == "ok"
    assert "note" not in checks["fan_runs"]


def test_a_fault_is_told_by_shape_and_weight(handset: Phone, service: Service) -> None:
    """In one colour, too: a frame, a mark and a heavier word, where what is in order has none of them."""
    page = handset.open(service.url)
    look_round(page)
    choose(page, "Condenser face", "dirty")
    choose(page, "Condenser fan", "turns")
    page.mouse.click(1, 1)
    drawn = "one => { const at = getComputedStyle(one); return [parseFloat(at.borderTopWidth), at.fontWeight,"
    drawn += " getComputedStyle(one, '::before').content] }"
    fault, fine = (page.locator(".check input:checked + span").nth(place).evaluate(drawn) for place in (1, 0))
    assert fault[0] >= 2 > fine[0]
    assert int(fault[1]) > int(fine[1])
    assert "\u2715" in fault[2]
    assert fine[2] == "none"


def test_no_row_moves_as_an_answer_is_tapped(handset: Phone, service: Service) -> None:
    """The next thing stays where the finger is on its way to."""
    page = handset.open(service.url)
    look_round(page)
    nth = page.locator(".check").nth(4)
    before = nth.evaluate("one => one.offsetTop")
    choose(page, "Belt", "worn or slipping")
    choose(page, "Condenser fan", "turns")
    assert nth.evaluate("one => one.offsetTop") == before


@pytest.mark.parametrize(("language", "width"), [("en-GB", 320), ("es-ES", 360), ("en-GB", 430)])
def test_it_is_readable_touchable_and_whole(language: str, width: int, service: Service) -> None:
    """axe-core in sun and dusk, 48 px, nothing beyond the edge, at 200 % neither; in both languages."""
    options = {"locale": language, "viewport": {"width": width, "height": 740}, "bypass_csp": True}
    with phone(**options) as handset:
        page = handset.open(service.url, paired=False)
        page.locator("#foot .main").click()
        page.wait_for_url(re.compile("/visit/"))
        page.goto(f"{page.url.rsplit('/', 1)[0]}/look")
        for code, place in (("fault", 0), ("ok", 3)):
            page.locator(f".check [data-code={code}]").nth(place).click()
        page.locator(".check .note:not(.away)").first.click()
        assert in_both(page) == []
        assert page.evaluate(SMALL_TARGETS) == []
        assert page.evaluate(TOO_WIDE) == []
        assert at_twice_the_size(page) == []
