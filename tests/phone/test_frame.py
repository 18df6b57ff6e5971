"""The frame of a visit: whose it is in the head, Steps and the next thing to do in the foot, all steps in a panel.

A real Chromium against a real service.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.phone.test_changes import file
from tests.support.browser import Phone
from tests.support.hands import choose, confirm_cautions, filed, go_to, hand_in, saved, start_visit, to_day, write
from tests.support.ops import Phone as Other
from tests.support.service import Service
from tests.support.walk_by_code import TOO_WIDE

TICKS = "ticks => [...ticks.children].map(one => one.className.replace('tick', '').trim()).join(' ')"
# The usual phone, the smallest and the largest one, a tablet, a phone on its side [CSS pixels].
SCREENS = [(360, 740), (320, 568), (430, 932), (820, 1180), (740, 360)]


@pytest.fixture
def page(handset: Phone, service: Service) -> Page:
    """A phone with a visit at its first step."""
    opened = handset.open(service.url)
    start_visit(opened)
    return opened


def steps(page: Page) -> Locator:
    """The key at the left of the foot."""
    return page.locator("#foot .steps")


def panel(page: Page) -> Locator:
    """The panel of steps, opened."""
    steps(page).click()
    shown = page.get_by_role("dialog", name="Steps of the visit")
    expect(shown).to_be_visible()
    return shown


def row(page: Page, title: str) -> Locator:
    """A step's row of the open panel."""
    return page.get_by_role("navigation").get_by_role("link", name=re.compile(f"^{title}"))


def box(place: Locator) -> dict[str, float]:
    """Where something lies, once nothing moves there [CSS pixels]."""
    place.evaluate("one => Promise.all(one.closest('body, dialog').getAnimations().map(moving => moving.finished))")
    found: Any = place.bounding_box()
    assert found is not None
    return {name: round(value, 1) for name, value in found.items()}


def test_the_head_says_whose_visit_it_is(page: Page) -> None:
    """Customer and vehicle as soon as they are known, what is in the system, the altitude, and when it was saved."""
    context = page.locator("#head .context")
    expect(context).to_have_text("New visit · not saved yet")
    write(page, "Customer", "M. Okafor")
    write(page, "Altitude", "610")
    saved(page)
    expect(context).to_have_text(re.compile(r"^M\. Okafor · 610\sm · saved \d\d:\d\d:\d\d$"))
    go_to(page, "Vehicle")
    write(page, "Registration", "LT 482")
    choose(page, "Refrigerant in the system", "R-134a")
    expect(context).to_have_text(re.compile(r"^LT 482 · M\. Okafor · R-134a · 610\sm · saved \d\d:\d\d:\d\d$"))
    assert box(page.locator("h1"))["y"] < box(context)["y"]
    saved(page)
    page.reload()
    expect(context).to_have_text(re.compile(r"^LT 482 · M\. Okafor · R-134a · 610\sm · saved"))
    page.get_by_role("link", name="The day").click()
    expect(page.get_by_role("button", name="Start a visit")).to_be_visible()


def test_steps_count_and_tick(page: Page) -> None:
    """The key says where the visit stands, and a tick for each step how far it is."""
    expect(steps(page)).to_have_accessible_name("Steps 1/8")
    ticks = steps(page).locator(".ticks")
    assert ticks.evaluate(TICKS) == "open here open open open open open open open"
    write(page, "Customer", "M. Okafor")
    assert ticks.evaluate(TICKS).startswith("begun here open")
    page.get_by_role("button", name="Work agreed").click()
    assert ticks.evaluate(TICKS).startswith("done here open")
    go_to(page, "Vehicle")
    expect(steps(page)).to_have_accessible_name("Steps 2/8")
    assert ticks.evaluate(TICKS).startswith("done open here open")


def test_the_panel_says_what_is_open(page: Page) -> None:
    """What is recorded, what is still to be done and what has to be corrected stand beside each step's name."""
    page.get_by_role("button", name="Work agreed").click()
    write(page, "Customer", "M. Okafor")
    go_to(page, "Vehicle")
    write(page, "Model and colour", "blue estate")
    panel(page)
    expect(row(page, "Customer")).to_have_accessible_name("Customer and location · done · agreed")
    expect(row(page, "Vehicle")).to_have_accessible_name("Vehicle · started · here · refrigerant open")
    expect(row(page, "Cautions")).to_have_accessible_name(re.compile(r"^Cautions · open · \d to read$"))
    page.keyboard.press("Escape")
    choose(page, "Refrigerant in the system", "R-134a")
    confirm_cautions(page)
    go_to(page, "Visual check")
    choose(page, "Condenser face", "dirty")
    choose(page, "Condenser fan", "doesn\u2019t turn")
    go_to(page, "Before")
    for label in ("Air at the condenser", "Low side", "High side", "Centre vent"):
        write(page, label, "30")
    panel(page)
    expect(row(page, "Vehicle")).to_have_accessible_name("Vehicle · done · blue estate")
    expect(row(page, "Cautions")).to_have_accessible_name(re.compile(r"^Cautions · done · \d read$"))
    expect(row(page, "Visual check")).to_have_accessible_name("Visual check · started · 2 to mend")
    expect(row(page, "Before")).to_have_accessible_name("Before · started · here · conditions open")
    expect(row(page, "Before")).to_have_attribute("aria-current", "step")
    expect(row(page, "After")).to_have_accessible_name("After · open")
    page.keyboard.press("Escape")
    write(page, "Low side", "3o")
    panel(page)
    expect(row(page, "Before")).to_have_accessible_name("Before · started · here · 1 to correct")


def test_the_panel_rises_from_the_key_and_goes(page: Page) -> None:
    """Close lies where Steps lay; Close, Escape and a tap behind it lead back to the key; a tap on a row jumps."""
    before = box(steps(page))
    shown = panel(page)
    expect(row(page, "Customer")).to_be_focused()
    close = shown.get_by_role("button", name="Close")
    assert box(close) == before
    assert all(box(one)["height"] >= 52 for one in shown.get_by_role("link").all())
    assert shown.get_by_role("link").count() == 8
    close.click()
    expect(shown).to_have_count(0)
    expect(steps(page)).to_be_focused()
    panel(page)
    page.keyboard.press("Escape")
    expect(shown).to_have_count(0)
    panel(page)
    page.touchscreen.tap(180, 10)
    expect(shown).to_have_count(0)
    panel(page)
    row(page, "Vehicle").click()
    expect(page.locator("h1")).to_have_text("Vehicle")
    expect(shown).to_have_count(0)
    panel(page)
    page.go_back()
    expect(page.locator("h1")).to_have_text("Customer and location")
    expect(shown).to_have_count(0)
    panel(page).get_by_role("button", name="Save, on to the vehicle").click()
    expect(page.locator("h1")).to_have_text("Vehicle")


def test_nothing_moves_where_nothing_should(page: Page) -> None:
    """The panel rises in 120 ms, and with reduced motion stands at once."""
    moving = "dialog => getComputedStyle(dialog).animationDuration + ' ' + getComputedStyle(dialog).animationName"
    assert panel(page).evaluate(moving) == "0.12s rise"
    page.keyboard.press("Escape")
    page.emulate_media(reduced_motion="reduce")
    assert panel(page).evaluate(moving).endswith(" none")


def test_what_went_wrong_is_seen_and_what_was_saved_is_heard(page: Page) -> None:
    """The status over the keys shows what has to be read; that all is saved stands in the head, for the eye."""
    write(page, "Customer", "M. Okafor")
    saved(page)
    status = page.locator("#status")
    assert box(status)["height"] <= 1
    go_to(page, "Vehicle")
    confirm_cautions(page)
    go_to(page, "Before")
    page.get_by_role("button", name="Log these readings now").click()
    expect(status).to_contain_text("no vent, pressure or return air")
    assert box(status)["height"] > 10
    assert box(status)["y"] < box(steps(page))["y"]


@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_foot_and_panel_fit(page: Page, width: int, height: int) -> None:
    """On every screen the keys are 56 px high, Steps 104 px wide, and the current row of the panel is in sight."""
    page.set_viewport_size({"width": width, "height": height})
    write(page, "Customer", "M. Okafor of the Alder Coast")
    key, main = box(steps(page)), box(page.locator("#foot .main"))
    assert (key["width"], key["height"]) == (104, max(56, main["height"]))
    assert main["x"] == key["x"] + key["width"] + 8
    panel(page)
    expect(row(page, "Customer")).to_be_in_viewport()
    expect(page.get_by_role("dialog").get_by_role("button", name="Close")).to_be_in_viewport()
    assert page.evaluate(TOO_WIDE) == []


def test_a_keystroke_right_after_a_tap_is_not_lost(page: Page, service: Service) -> None:
    """A key that draws the step anew while somebody is typing already: every letter stands, and is filed."""
    write(page, "Phone", "555-0123")
    write(page, "Address", "Wren Lane 4")
    write(page, "Customer", "M. Okafor")
    go_to(page, "Result")
    page.get_by_role("button", name="Finish the visit").click()
    visit = start_visit(page)
    write(page, "Phone", "555 0123")
    go_to(page, "Vehicle")
    go_to(page, "Customer and location")
    take = page.get_by_role("button", name="Use what is known")
    take.evaluate("key => { key.click(); document.querySelector('[autocomplete][inputmode=email]').focus(); }")
    page.keyboard.type("m.okafor@mail.example", delay=20)
    expect(take).to_have_count(0)
    expect(page.get_by_label("Address", exact=True)).to_have_value("Wren Lane 4")
    expect(page.get_by_label("Email for the sheet", exact=True)).to_have_value("m.okafor@mail.example")
    hand_in(page, 2)
    service.stop()
    assert filed(service, visit)[1]["customer"]["email"] == "m.okafor@mail.example"


def test_a_disagreement_is_told_in_words_and_units(page: Page, service: Service) -> None:
    """Neither a code nor a value in a unit that nobody reads: the field's name, the word, the figure with its unit."""
    visit = page.url.split("/")[4]
    write(page, "Customer", "M. Okafor")
    hand_in(page, 1)
    page.goto(f"{service.url}/visit/{visit}/customer")
    write(page, "Altitude", "620")
    go_to(page, "Vehicle")
    choose(page, "Refrigerant in the system", "R-1234yf")
    other = Other("beef", ms=2_000_000_000_000)
    set_there = {"vehicle": {"refrigerant": "R134a"}, "place": {"altitude_m": 610.0}}
    file(service, other.op(visit, "visit.set", set_there, {"/vehicle/refrigerant": None, "/place/altitude_m": None}))
    go_to(page, "Work")
    to_day(page)
    page.get_by_role("button", name="Send now").click()
    expect(page.get_by_text("Two entries disagree. Open the visit to see both.")).to_be_visible()
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    expect(page.get_by_text("Two entries disagree: refrigerant.")).to_be_visible()
    expect(page.get_by_role("button", name=re.compile(r"^R-1234yf\s·\sthis phone"))).to_be_visible()
    expect(page.get_by_role("button", name=re.compile(r"^620\sm\s·\sthis phone"))).to_be_visible()


NAMES = """(paths) => import('/page.js').then(({ $language_words: words }) =>
  paths.map((path) => [path, words.fieldName(path.split('.'))]))"""


def test_no_field_is_called_by_its_code(page: Page, rulebook: dict[str, Any]) -> None:
    """Whatever field an answer of the desk names, the phone has words for it."""
    scopes = rulebook["fields"]["scopes"]
    paths = [path if scope == "visit" else f"{scope}.{path}" for scope, rows in scopes.items() for path in rows]
    named = dict(page.evaluate(NAMES, [*paths, "nobody.knows_this"]))
    coded = {path: name for path, name in named.items() if "_" in name or not name.strip()}
    assert coded == {}
    assert named["nobody.knows_this"] == "another detail"
    assert named["technician.email"] == "technician"
    assert len(named) > 100
