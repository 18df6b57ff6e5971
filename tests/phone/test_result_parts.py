"""The parts of a result on the phone: readings against their yardsticks, causes as a set, the evidence as a table.

A real Chromium runs the page's own modules on judgements written by hand; axe-core looks at what they draw.
"""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.phone.test_screens import at_twice_the_size, in_both
from tests.support.browser import Phone
from tests.support.judgements import figure, ranking, row, yardsticks
from tests.support.service import Service

THREE = ("non_condensables", "condenser_airflow", "overcharge")
FIVE = ("overcharge", "condenser_airflow", "weak_compressor", "valve_open", "icing")
FLEET, CHART = (14.0, 44.0), (22.0, 28.0)

# Draws the parts of a result from tests and their judgements, in °F and psi. They are on their own page, because the
# phone redraws its day whenever something arrives.
DRAW = """async (tests) => {
  const page = await import('/page.js');
  const { stripsView } = page.$form_yardstick;
  const { causesView, findingWords } = page.$form_causes;
  const { speaker } = page.$form_meanings;
  const rulebook = await (await fetch('/rulebook.json')).json();
  const about = { rulebook, speak: speaker({ pressure: 'psi', temperature: 'f', altitude: 'm', mass: 'g' }, rulebook) };
  const views = [stripsView(tests, about), ...tests.map((_, place) => causesView(place, tests, about))];
  const [head, main] = [document.createElement('h1'), document.createElement('main')];
  head.textContent = 'Result';
  main.append(head, ...views.filter((view) => view));
  document.body.replaceChildren(main);
  return tests.map(({ judged }) => judged.causes.length > 0 ? findingWords(judged, rulebook) : '');
}"""


def taken(role: str, split: float | None, expected: dict[str, Any] | None = None, **said: Any) -> dict[str, Any]:
    """A test with this condenser split [K], and its judgement."""
    derived = {} if split is None else {"condenser_split_k": figure(split)}
    judged = {"derived": derived, "expected": {"condenser_split_k": expected} if expected else {}, "faults": [],
              "unknown": [], "causes": [], "undecided": [], "evidence": [], "range": [], "next_check": None, **said}
    return {"role": role, "test": {"id": role, "role": role, "readings": {}}, "judged": judged}


@pytest.fixture
def page(handset: Phone, service: Service) -> Page:
    """The phone page of a paired phone."""
    return handset.open(service.url)


def draw(page: Page, *tests: dict[str, Any]) -> list[str]:
    """Draw the parts, and return the finding of each test [sentences]."""
    found: list[str] = page.evaluate(DRAW, list(tests))
    return [text.replace("\u00a0", " ") for text in found]


def strip_of(page: Page) -> str:
    """What a screen reader says about the one strip."""
    return (page.get_by_role("img").get_attribute("aria-label") or "").replace("\u00a0", " ")


@pytest.mark.parametrize(("after", "own", "said"), [
    (26.0, None, "High side over ambient 64.8 to 46.8 °F: within the maker’s chart (39.6 to 50.4)."),
    (30.0, None, "High side over ambient 64.8 to 54.0 °F: above the maker’s chart (39.6 to 50.4)."
                 " Some healthy cars read like this."),
    (30.0, 25.0, "High side over ambient 64.8 to 54.0 °F: above this car’s own healthy test of 3 May 2026 (45.0)."
                 " Some healthy cars read like this."),
])
def test_a_strip_says_the_reading_the_narrowest_yardstick_and_the_place(
    after: float, own: float | None, said: str, page: Page
) -> None:
    """In the sheet's words; as text too only if the narrowest isn't met; 1 K is 1.8 °F."""
    expected = yardsticks(FLEET, CHART, own)
    draw(page, taken("before", 36.0, expected), taken("after", after, expected))
    assert strip_of(page) == said
    expect(page.locator("main .meaning")).to_have_count(0 if "within" in said else 1)


def test_pins_and_ends_lie_on_one_scale(page: Page) -> None:
    """14 and 44 K are the ends, the ring is at 36 and the dot at 26 K: 30 and 10 apart."""
    draw(page, taken("before", 36.0, yardsticks(FLEET)), taken("after", 26.0, yardsticks(FLEET)))
    band = page.locator(".strip .band").bounding_box()
    ring, dot = (page.locator(f".strip .{name}").evaluate("one => one.getBoundingClientRect()")
                 for name in ("ring", "dot"))
    assert band is not None
    apart = (ring["x"] + ring["width"] / 2) - (dot["x"] + dot["width"] / 2)
    assert apart / band["width"] == pytest.approx(10.0 / 30.0, abs=0.01)


def test_beyond_the_scale_a_pin_stops_within_the_picture(page: Page) -> None:
    """112 K over ambient is off every scale; nothing overflows the screen."""
    draw(page, taken("single", 112.0, yardsticks(FLEET)))
    picture, dot = (page.locator(name).evaluate("one => one.getBoundingClientRect()") for name in (".strip", ".dot"))
    assert dot["x"] + dot["width"] < picture["x"] + picture["width"]
    assert strip_of(page).startswith("High side over ambient 201.6 °F: above the range of healthy cars")


def test_what_is_not_known_is_left_out(page: Page) -> None:
    """No yardstick: the axis and the pin. No reading: no strip."""
    draw(page, taken("single", 36.0))
    expect(page.locator(".strip .dot")).to_have_count(1)
    expect(page.locator(".strip rect, .strip text, .strip .own")).to_have_count(0)
    draw(page, taken("single", None))
    expect(page.locator(".strip")).to_have_count(0)


def test_a_range_that_holds_the_reading_of_a_car_called_dirty_says_why(page: Page) -> None:
    """And outside the published weather, that the range is wider."""
    together = page.get_by_text("while together they point to a fault")
    draw(page, taken("single", 36.0, yardsticks(FLEET), **ranking(*THREE)))
    expect(together).to_be_visible()
    expect(page.get_by_text("dashed ends")).to_have_count(0)
    draw(page, taken("single", 50.0, yardsticks(FLEET), **ranking(*THREE, range=["ambient_high"])))
    expect(page.get_by_text("dashed ends")).to_be_visible()
    expect(together).to_have_count(0)


def test_three_causes_are_lettered_over_a_table_that_can_be_heard(page: Page) -> None:
    """In the order of the trade; each cell says in words what it shows; the last row is the next check."""
    assert draw(page, taken("single", 36.0, **ranking(*THREE))) == ["Three faults fit these readings."]
    expect(page.locator(".bracket li")).to_have_text([
        "Atoo little air through the condenser", "Btoo much refrigerant", "Cair or another gas in the refrigerant"])
    rows = page.get_by_role("table").get_by_role("row")
    for place, cells in enumerate((["A", "B", "C"], ["fits"] * 3, ["speaks against", "doesn’t tell", "doesn’t tell"],
                                   ["usual", "high", "high"])):
        role = "columnheader" if place == 0 else "cell"
        texts = [text.strip() for text in rows.nth(place).get_by_role(role).all_text_contents()]
        assert texts[-3:] == cells
    expect(rows.nth(1).get_by_role("rowheader")).to_have_text(
        "Condensing temperature 64.8 °F over ambient (typical here: about 45.0 °F)")
    expect(rows.nth(3).get_by_role("rowheader")).to_have_text(
        "Next, 2\u00a0min: clamp the liquid line.Subcooling would be:")


def test_more_than_three_stand_by_family_with_the_check_first(page: Page) -> None:
    """No letters, no table, and about how many the check would leave: five minus three."""
    assert draw(page, taken("single", 36.0, **ranking(*FIVE))) == ["Five faults fit these readings."]
    expect(page.locator(".bracket dt")).to_have_text([
        "Heat isn’t given off well", "Too little refrigerant moves", "Too much refrigerant gets through", "Air side"])
    expect(page.get_by_role("table")).to_have_count(0)
    expect(page.locator(".check-next")).to_have_text("Next, 2\u00a0min: clamp the liquid line. Would leave about two.")


@pytest.mark.parametrize(("held", "alone", "said"), [
    (("healthy",), True, "This car cools like healthy cars do."),
    (("weak_compressor",), True, "Weak compressor."),
    (("healthy", "undercharge"), False,
     "Nothing stands out, but these readings don’t rule out too little refrigerant."),
    (("healthy", *FIVE), False, "Nothing stands out, but these readings don’t rule out five faults."),
    (("undercharge", "healthy"), False,
     "One fault fits these readings: too little refrigerant. These readings don’t rule out a healthy system."),
    ((*FIVE, "healthy"), False, "Five faults fit these readings. These readings don’t rule out a healthy system."),
])
def test_the_finding_is_said_as_on_the_sheet(held: tuple[str, ...], alone: bool, said: str, page: Page) -> None:
    """The same sentences; no weight and no "best" anywhere."""
    assert draw(page, taken("single", 36.0, **ranking(*held, alone=alone))) == [said]
    text = page.locator("main").inner_text()
    assert "best" not in text
    assert "%" not in text


def test_of_a_test_where_nothing_was_read_nothing_is_said(page: Page) -> None:
    """A test just opened: the causes are those of any car, and none of them is a finding."""
    draw(page, taken("single", None, **ranking(*FIVE, evidence=[])))
    expect(page.locator("main .doubts")).to_have_count(0)


def test_after_the_work_the_causes_stand_in_short_and_a_check_once(page: Page) -> None:
    """What was said about the test before isn't said again."""
    draw(page, taken("before", 36.0, **ranking(*THREE)), taken("after", 26.0, **ranking("healthy", "undercharge")))
    first, second = page.locator("main .doubts").all()
    expect(first.get_by_role("heading", level=2)).to_have_text("What could be wrong, before the work")
    expect(second.get_by_role("heading", level=2)).to_have_text("What could still be wrong")
    expect(second).to_contain_text("Nothing stands out")
    expect(second.locator(".check-next, table, details")).to_have_count(0)


def test_the_parts_are_readable_and_whole_in_sun_and_dusk(page: Page) -> None:
    """Contrast, names and roles by axe-core; nothing overflows the screen at 200 %."""
    evidence = [row("condenser_split_k_high", {}, value=36.0, usual=25.0)]
    before = taken("before", 36.0, yardsticks(FLEET, CHART, 25.0), **ranking(*THREE))
    after = taken("after", 130.0, yardsticks(FLEET), **ranking(*FIVE, evidence=evidence, range=["ambient_high"]))
    draw(page, before, after)
    assert in_both(page) == []
    assert at_twice_the_size(page) == []
