"""The yardstick strips of the sheet: what each says in words, what is left out, and when a range needs its reason.

The judgement here is written by hand in the shape of an assessment; a difference of 1 K is 1.8 °F.
"""

from __future__ import annotations

from typing import Any

import pytest

from sync.sheet.jobsheet import jobsheet
from tests.support.judgements import figure, ranking, yardsticks
from tests.support.sheet_visits import PAIR, SINGLE, blocks_of, judged

Rulebook = dict[str, Any]
FLEET, CHART = (14.0, 44.0), (22.0, 28.0)
TOGETHER = "while together they point to a fault"


def readings_of(
    rulebook: Rulebook, splits: tuple[float, float], expected: dict[str, Any] | None, **changes: Any
) -> dict[str, Any]:
    """The sheet's block of readings of a pair with these condenser splits before and after [K]."""
    assessment = judged(PAIR, rulebook)
    for test, split in zip(assessment["tests"], splits, strict=True):
        test.update(ranking("condenser_airflow", "overcharge"))
        test.update({"derived": {"condenser_split_k": figure(split)}, **changes})
        test["expected"] = {"condenser_split_k": expected} if expected else {}
    blocks = blocks_of(jobsheet(PAIR, assessment, rulebook))
    found: dict[str, Any] = blocks["readings"]
    return found


def split_of(block: dict[str, Any]) -> dict[str, Any]:
    """The strip of the condenser split, with no-break spaces made plain."""
    strip = next(plot for plot in block["plots"] if plot["kind"] == "yardstick" and plot["side"] == "high")
    return {**strip, **{name: strip[name].replace("\u00a0", " ") for name in ("alt", "sentence")}}


@pytest.mark.parametrize(("after", "own", "said"), [
    (26.0, None, "High side over ambient 64.8 to 46.8 °F: within the maker’s chart (39.6 to 50.4)."),
    (30.0, None, "High side over ambient 64.8 to 54.0 °F: above the maker’s chart (39.6 to 50.4)."
                 " Some healthy cars read like this."),
    (10.0, None, "High side over ambient 64.8 to 18.0 °F: below the maker’s chart (39.6 to 50.4)."),
    (26.0, 25.0,
     "High side over ambient 64.8 to 46.8 °F: as in this car’s own healthy test of 3 May 2026 (45.0)."),
    (30.0, 25.0, "High side over ambient 64.8 to 54.0 °F: above this car’s own healthy test of 3 May 2026 (45.0)."
                 " Some healthy cars read like this."),
])
def test_the_alternative_is_the_reading_the_narrowest_yardstick_and_the_place(
    after: float, own: float | None, said: str, rulebook: Rulebook
) -> None:
    """The same sentence is printed only if the narrowest one isn't met."""
    strip = split_of(readings_of(rulebook, (36.0, after), yardsticks(FLEET, CHART, own)))
    assert strip["alt"] == said
    assert strip["sentence"] == ("" if "within" in said or "as in" in said else said)


def test_yardsticks_pins_and_scale_are_in_the_readers_unit(rulebook: Rulebook) -> None:
    """The earlier reading is the ring; 14 to 44 K are 25.2 to 79.2 °F, 36 and 26 K 64.8 and 46.8."""
    strip = split_of(readings_of(rulebook, (36.0, 26.0), yardsticks(FLEET, CHART, 25.0)))
    assert strip["fleet"] == {"low": pytest.approx(25.2), "high": pytest.approx(79.2), "labels": ["25.2", "79.2"]}
    assert [(pin["value"], pin["ring"]) for pin in strip["pins"]] == [
        (pytest.approx(64.8), True), (pytest.approx(46.8), False)]
    assert strip["own"] == pytest.approx(45.0)
    assert strip["low"] < 25.2 < 79.2 < strip["high"]


def test_what_is_not_known_is_left_out(rulebook: Rulebook) -> None:
    """No reading: no strip. No yardstick: no strip either, because a pin on a bare line says nothing."""
    assert readings_of(rulebook, (36.0, 26.0), None)["plots"] == []
    assessment = judged(SINGLE, rulebook)
    for test in assessment["tests"]:
        test.update(ranking("overcharge", "healthy") | {"derived": {}, "expected": {}})
    blocks = blocks_of(jobsheet(SINGLE, assessment, rulebook))
    assert blocks["readings"]["plots"] == []


def test_outside_the_published_weather_the_ends_are_dashed_and_it_says_so(rulebook: Rulebook) -> None:
    """Any code in `range` widens the band."""
    block = readings_of(rulebook, (36.0, 26.0), yardsticks(FLEET), range=["ambient_high"])
    assert split_of(block)["dashed"]
    assert "dashed ends" in block["notes"][0]
    within = readings_of(rulebook, (36.0, 26.0), yardsticks(FLEET))
    assert not split_of(within)["dashed"]
    assert "dashed ends" not in within["notes"][0]


def test_a_yardstick_that_was_not_used_says_so(rulebook: Rulebook) -> None:
    """A chart far from what healthy cars show is drawn, and the reading is compared with the fleet."""
    expected = yardsticks(FLEET, (2.0, 4.0), by="fleet", outside=True)
    strip = split_of(readings_of(rulebook, (36.0, 26.0), expected))
    assert strip["alt"].startswith("High side over ambient 64.8 to 46.8 °F: within the range of healthy cars")
    assert strip["alt"].endswith("so it wasn’t used.")
    assert strip["sentence"] == strip["alt"]


def test_a_range_begins_no_lower_than_its_scale(rulebook: Rulebook) -> None:
    """No car condenses at a temperature below the air that cools it: 0 and not -4 K, in words as in the picture."""
    strip = split_of(readings_of(rulebook, (36.0, 50.0), yardsticks((-4.0, 44.0))))
    assert strip["fleet"]["low"] == 0.0
    assert strip["alt"].endswith("above the range of healthy cars in this weather (0.0 to 79.2).")


def test_why_no_causes_are_named_is_said(rulebook: Rulebook) -> None:
    """A refrigerant without yardsticks: one sentence, and nothing about dashed ends that nobody sees."""
    nothing = {"causes": [], "undecided": [], "evidence": [], "range": ["refrigerant_out_of_scope"], "next_check": None}
    [note] = readings_of(rulebook, (36.0, 26.0), None, **nothing)["notes"]
    assert note == "No causes are named: there is no yardstick for this refrigerant."


@pytest.mark.parametrize(("before", "held", "said"), [
    (36.0, ("condenser_airflow", "overcharge"), True),
    (50.0, ("condenser_airflow", "overcharge"), False),
    (36.0, ("healthy", "overcharge"), False),
])
def test_a_range_that_holds_the_reading_of_a_car_called_dirty_says_why(
    before: float, held: tuple[str, ...], said: bool, rulebook: Rulebook
) -> None:
    """The range is that of all healthy cars, but the readings are judged together."""
    block = readings_of(rulebook, (before, 26.0), yardsticks(FLEET), **ranking(*held))
    assert (TOGETHER in block["notes"][0]) is said
