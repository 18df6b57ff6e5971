"""The parts of a result on the phone: readings against their yardsticks, causes as a set, the evidence as a table.

A real Chromium runs the page's own modules on judgements written by hand; axe-core looks at what they draw.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.phone.test_screens import at_twice_the_size, in_both
from tests.support.browser import phone
from tests.support.judgements import figure, ranking, row, yardsticks
from tests.support.service import Service

THREE = ("non_condensables", "condenser_airflow", "overcharge")
FIVE = ("overcharge", "condenser_airflow", "weak_compressor", "valve_open", "icing")
FLEET, CHART = (14.0, 44.0), (22.0, 28.0)

# What draws the parts of a result from tests and their judgements, in °F and psi. They stand on a page of their own,
# since the phone draws its day anew whenever something arrives.
DRAW = """async ([tests, more]) => {
  const page = await import('/page.js');
  const { resultView } = page.$form_result;
  const { hasCauses } = page.$visit_leading;
  const { findingWords } = page.$form_found;
  const { speaker } = page.$form_meanings;
  const rulebook = await (await fetch('/rulebook.json')).json();
  const about = { rulebook, speak: speaker({ pressure: 'psi', temperature: 'f', altitude: 'm', mass: 'g' }, rulebook) };
  const visit = { id: 'v', tests: tests.map(({ test }) => test), work: more.work ?? [] };
  const judged = tests.map(({ test, judged: one }) => ({ ...one, id: test.id }));
  const assessment = { tests: judged, comparison: more.comparison ?? null };
  const sight = { visit, assessment, speak: about.speak };
  const view = resultView({ visit, draft: { tests: [] } }, { rulebook }, sight);
  const [head, main] = [document.createElement('h1'), document.createElement('main')];
  head.textContent = 'Result';
  main.append(head, view);
  document.body.replaceChildren(main);
  return tests.map((taken) => hasCauses(taken.judged) ? findingWords(taken, about) : '');
}"""


def taken(role: str, split: float | None, expected: dict[str, Any] | None = None, **said: Any) -> dict[str, Any]:
    """A test with this condenser split [K], and its judgement."""
    derived = {} if split is None else {"condenser_split_k": figure(split)}
    judged = {"derived": derived, "expected": {"condenser_split_k": expected} if expected else {}, "faults": [],
              "unknown": [], "causes": [], "undecided": [], "evidence": [], "range": [], "next_check": None, **said}
    return {"role": role, "test": {"id": role, "role": role, "readings": {}}, "judged": judged}


@pytest.fixture(scope="module")
def sitting(desk: Service) -> Iterator[Page]:
    """The page of a paired phone, for all tests of this file: each draws what it looks at anew."""
    with phone() as handset:
        yield handset.open(desk.url)


@pytest.fixture
def page(sitting: Page, desk: Service) -> Page:
    """The same, as it is when it is opened; its day is drawn once its words have come."""
    sitting.goto(desk.url)
    expect(sitting.get_by_role("heading", level=1)).to_be_visible()
    return sitting


def draw(page: Page, *tests: dict[str, Any], **more: Any) -> list[str]:
    """Draw the parts, and give back the finding of each test [sentences]."""
    found: list[str] = page.evaluate(DRAW, [list(tests), more])
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
    expect(page.locator(".numbers .meaning")).to_have_count(0 if "within" in said else 1)


def test_a_pair_s_high_side_is_what_its_gauge_read(page: Page) -> None:
    """2,000 and 1,500 kPa are 290 and 218 psi (6.894757 kPa a psi); how it changed and the degrees stand beside it."""
    before, after = taken("before", 36.0, yardsticks(FLEET)), taken("after", 26.0, yardsticks(FLEET))
    for one, high in ((before, 2000.0), (after, 1500.0)):
        one["test"]["readings"]["high_kpa_g"] = high
    draw(page, before, after)
    row = page.locator(".measure.high")
    expect(row.locator("span").first).to_have_text(
        re.compile(r"^High side 73\spsi lower · over ambient 64\.8 to 46\.8\s°F$"))
    expect(row.locator("b")).to_have_text("290 to 218psi")
    assert strip_of(page).startswith("High side over ambient 64.8 to 46.8 °F")


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
    """No yardstick: the axis and the pin. No reading at all: no strip, and no row that says it is missing."""
    draw(page, taken("single", 36.0))
    expect(page.locator(".strip .dot")).to_have_count(1)
    expect(page.locator(".strip rect, .strip text, .strip .own")).to_have_count(0)
    draw(page, taken("single", None))
    expect(page.locator(".strip")).to_have_count(0)


def test_a_range_that_holds_the_reading_of_a_car_called_dirty_says_why(page: Page) -> None:
    """And outside the published weather, that the range is wider."""
    together = page.get_by_text("while together they point to a fault")
    draw(page, taken("single", 36.0, yardsticks(FLEET), **ranking(*FIVE)))
    expect(together).to_be_visible()
    expect(page.get_by_text("dashed ends")).to_have_count(0)
    draw(page, taken("single", 50.0, yardsticks(FLEET), **ranking(*FIVE, range=["ambient_high"])))
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
    """No letters, no grid, and about how many the check would leave: five less three. The check stands first."""
    assert draw(page, taken("single", 36.0, **ranking(*FIVE))) == ["One gauge leaves five faults open."]
    expect(page.locator(".bracket dt")).to_have_text([
        "Heat isn’t given off well", "Too little refrigerant moves", "Too much refrigerant gets through", "Air side"])
    expect(page.locator("table.grid")).to_have_count(0)
    expect(page.locator(".check-next")).to_have_text("Next, 2\u00a0min: clamp the liquid line. Would leave about two.")
    expect(page.locator(".check-next + .doubts h2")).to_have_text("Five faults stay open")


@pytest.mark.parametrize(("held", "alone", "said"), [
    (("healthy",), True, "Nothing stands out. This car cools like healthy cars do."),
    (("weak_compressor",), True, "Weak compressor."),
    (("healthy", "undercharge"), False,
     "Nothing stands out, but these readings don’t rule out too little refrigerant."),
    (("healthy", *FIVE), False, "Nothing stands out, but one gauge can't rule out five faults."),
    (("undercharge", "healthy"), False,
     "One fault fits these readings: too little refrigerant. These readings don’t rule out a healthy system."),
    ((*FIVE, "healthy"), False, "One gauge leaves five faults open. These readings don’t rule out a healthy system."),
])
def test_the_finding_says_that_nothing_stands_out_first(
    held: tuple[str, ...], alone: bool, said: str, page: Page
) -> None:
    """And by how many gauges where that is why; no weight and no best anywhere."""
    assert draw(page, taken("single", 36.0, **ranking(*held, alone=alone))) == [said]
    text = page.locator("main").inner_text()
    assert "best" not in text
    assert "%" not in text


@pytest.mark.parametrize(("codes", "said"), [
    (["low_saturation_c_usual", "condenser_split_k_usual", "vent_c_usual"], "two gauges can't rule out"),
    (["low_saturation_c_usual"], "one gauge can't rule out"),
    (["low_saturation_c_usual", "condenser_split_k_usual", "superheat_k_usual"], "these readings can't rule out"),
    (["vent_c_usual"], "these readings can't rule out"),
])
def test_the_sentence_names_what_there_was_to_go_by(codes: list[str], said: str, page: Page) -> None:
    """Gauges only where it was gauges, or gauges and the vent, that were read."""
    evidence = [row(code, {}, value=20.0, usual=20.0) for code in codes]
    assert said in draw(page, taken("single", 36.0, **ranking("healthy", *FIVE, evidence=evidence)))[0]


@pytest.mark.parametrize(("split", "expected", "said"), [
    (50.0, yardsticks(FLEET), "The high side is too high. Three faults fit these readings."),
    (10.0, yardsticks(FLEET), "The high side is too low. Three faults fit these readings."),
    (30.0, yardsticks(FLEET, CHART), "The high side is too high. Three faults fit these readings."),
    (30.0, yardsticks(FLEET, CHART, outside=True), "Three faults fit these readings."),
    (30.0, yardsticks(FLEET), "Three faults fit these readings."),
])
def test_what_stands_out_is_said_first(split: float, expected: dict[str, Any], said: str, page: Page) -> None:
    """By the narrowest yardstick; one that was not used says nothing."""
    assert draw(page, taken("single", split, expected, **ranking(*THREE))) == [said]


def test_where_causes_are_lettered_the_yardstick_stands_in_words(page: Page) -> None:
    """Three lines leave the evidence room on the first screen."""
    draw(page, taken("single", 36.0, yardsticks(FLEET, CHART), **ranking(*THREE)))
    expect(page.locator(".strip")).to_have_count(0)
    words = re.compile(r"High side over ambient\s*64\.8°Fchart 39\.6 to 50\.4")
    expect(page.locator(".measure.high")).to_have_text(words)


def test_of_a_test_where_nothing_was_read_nothing_is_said(page: Page) -> None:
    """A test just opened: the causes are those of any car, and none of them is a finding."""
    draw(page, taken("single", None, **ranking(*FIVE, evidence=[])))
    expect(page.locator("main .doubts")).to_have_count(0)
    expect(page.locator(".finding")).to_have_text("This test has no readings yet.")


def test_after_the_work_the_second_test_leads_and_the_first_is_folded(page: Page) -> None:
    """What could still be wrong is in full; what the test before pointed to stands with the figures, its check not."""
    before = taken("before", 36.0, **ranking(*THREE))
    after = taken("after", 26.0, **ranking("healthy", "undercharge"))
    for one, high in ((before, 2000.0), (after, 1500.0)):
        one["test"]["readings"]["high_kpa_g"] = high
    draw(page, before, after)
    second = page.locator(".result-whole > .doubts")
    expect(second.get_by_role("heading", level=2)).to_have_text("What could still be wrong")
    expect(second).to_contain_text("Nothing stands out")
    expect(second.locator("table.grid")).to_have_count(1)
    fold = page.locator("details", has=page.get_by_text("Figures, uncertainty, before the work"))
    fold.locator("summary").click()
    expect(fold.get_by_role("heading", name="What could be wrong, before the work")).to_be_visible()
    expect(fold.locator(".check-next")).to_have_count(0)


def test_the_parts_are_readable_and_whole_in_sun_and_dusk(page: Page) -> None:
    """Contrast, names and roles by axe-core; nothing overflows the screen at 200 %."""
    evidence = [row("condenser_split_k_high", {}, value=36.0, usual=25.0)]
    before = taken("before", 36.0, yardsticks(FLEET, CHART, 25.0), **ranking(*THREE))
    after = taken("after", 130.0, yardsticks(FLEET), **ranking(*FIVE, evidence=evidence, range=["ambient_high"]))
    for tests in ([before, after], [before], [after]):
        draw(page, *tests)
        assert in_both(page) == []
        assert at_twice_the_size(page) == []
