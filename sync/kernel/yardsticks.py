"""What this very car would show if it were healthy: the fleet, the maker's chart and its own earlier test.

A car has one offset from the fleet's middle for each column, the same in all its tests. Each narrower yardstick is an
observation of it. Nothing is ranked here.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TypedDict

from sync.kernel.books import Rulebook
from sync.kernel.charts import ChartReading, chart_of
from sync.kernel.conditions import settings_of
from sync.kernel.history import Earlier, earlier_of
from sync.kernel.inputs import Inputs, refrigerant_of
from sync.kernel.judgement import Expected, OwnValue, Span
from sync.kernel.measurement import load_of
from sync.kernel.middles import Middle, middle_of, row_value, unknown_at
from sync.kernel.normal import Load, Matrix, Vector, along, covariance_of, observe
from sync.kernel.quantities import Substance
from sync.kernel.ranking import Settings
from sync.kernel.visit import Test, Visit


@dataclass
class Yardstick:
    """The middle of healthy cars, this car's offset from it as far as it is known, and where that came from.

    `chart` and `history` hold what was printed and shown, by quantity, in this test's surroundings; `unused` names the
    quantities whose earlier value lies too far from the fleet to be taken in [unit of each quantity].
    """

    middle: Middle
    offset: Vector
    covariance: Matrix
    chart: dict[str, Span]
    history: dict[str, OwnValue]
    unused: list[str]


class TestScene(TypedDict):
    """Everything that sets a test's yardsticks, and the codes of what lies outside their validity."""

    settings: Settings
    widen: float
    range: list[str]
    chart: ChartReading | None
    earlier: Earlier | None


def scene_of(visit: Visit, test: Test, inputs: Inputs, rulebook: Rulebook) -> TestScene:
    """A test's surroundings, how far to widen the fleet for it, its chart and its car's earlier test.

    Args:
        visit: the visit [JSON object]
        test: the test [JSON object]
        inputs: its values and standard uncertainties [by name]
        rulebook: the rulebook [books by name]

    Returns:
        the scene [object]

    Source: the rulebook's `yardsticks` and `refrigerants` books (common practice, no source).
    """
    refrigerant = refrigerant_of(visit)
    row = rulebook["refrigerants"]["refrigerants"].get(refrigerant)
    widen = 2.0 - (0.0 if row is None else row["trust"])
    outside = range_of(visit, test, rulebook)
    if len(outside) > 0:
        widen = widen * rulebook["yardsticks"]["beyond"]
    settings = settings_of(visit, test, inputs, rulebook)
    chart = chart_of(visit, test, Substance(refrigerant, rulebook), rulebook)
    return {
        "settings": settings,
        "widen": widen,
        "range": outside,
        "chart": chart,
        "earlier": earlier_of(visit, test, rulebook),
    }


def range_of(visit: Visit, test: Test, rulebook: Rulebook) -> list[str]:
    """What lies outside the weather, speed and altitude for which the yardsticks are used.

    Args:
        visit: the visit, for its place [JSON object]
        test: the test [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        codes [list]

    Source: the rulebook's `yardsticks` book, `valid`.
    """
    conditions = test.get("conditions") or {}
    values = {
        "ambient": conditions.get("ambient_c"),
        "speed": conditions.get("rpm"),
        "altitude": (visit.get("place") or {}).get("altitude_m"),
    }
    codes: list[str] = []
    for row in rulebook["yardsticks"]["valid"]:
        value = values[row["name"]]
        if value is None:
            if row["needed"]:
                codes.append(row["name"] + "_not_recorded")
        elif value < row["low"]:
            codes.append(row["name"] + "_low")
        elif value > row["high"]:
            codes.append(row["name"] + "_high")
    return codes


def yardstick_of(regime: str, scene: TestScene, rulebook: Rulebook) -> Yardstick:
    """The fleet's middle for a test, and this car's offset from all the yardsticks there are.

    Args:
        regime: how the compressor is regulated [code]
        scene: the test with its surroundings [object]
        rulebook: the rulebook [books by name]

    Returns:
        the yardstick [unit of each quantity]

    Source: the ordinary rule for normal quantities; spreads in the rulebook's `yardsticks` book.
    """
    middle = middle_of(regime, scene["settings"], scene["widen"], rulebook["distribution"])
    offset = [0.0 for value in middle["values"]]
    yardstick = Yardstick(middle, offset, [list(row) for row in middle["fleet"]], {}, {}, [])
    if scene["chart"] is not None:
        _take_chart(yardstick, scene["chart"], rulebook)
    if scene["earlier"] is not None:
        _take_earlier(yardstick, scene["earlier"], rulebook)
    return yardstick


def _take_chart(yardstick: Yardstick, chart: ChartReading, rulebook: Rulebook) -> None:
    """Take in what the maker printed, as an observation of this car's offset."""
    rows = yardstick.middle["rows"]
    values, unknown = [row_value(row, chart.settings) for row in rows], unknown_at(rows, chart.settings)
    for name in chart.spans:
        span = chart.spans[name]
        load = load_of(name, rulebook["distribution"])
        there = along(load, values)
        carried = along(load, yardstick.middle["values"]) - there
        half = (span["high"] - span["low"]) / 2.0
        variance = half * half / 3.0 + chart.open_k * chart.open_k + covariance_of(load, unknown, load)
        observed = (span["low"] + span["high"]) / 2.0 - there
        observe(yardstick.offset, yardstick.covariance, load, observed, variance)
        yardstick.chart[name] = {"low": span["low"] + carried, "high": span["high"] + carried}


def _take_earlier(yardstick: Yardstick, earlier: Earlier, rulebook: Rulebook) -> None:
    """Take in what the car showed when it was healthy; a value far from the fleet is shown but not taken in."""
    book, rules = rulebook["distribution"], rulebook["yardsticks"]["history"]
    middles = yardstick.middle["values"]
    settings = earlier.settings
    there = middles if settings is None else [row_value(row, settings) for row in yardstick.middle["rows"]]
    for name in rules["years_k"]:
        if name not in earlier.values or name not in book["observed"]:
            continue
        load, figure = load_of(name, book), earlier.values[name]
        value = figure["value"] - along(load, there)
        today = along(load, middles) + value
        yardstick.history[name] = {"value": today, "at": earlier.at}
        own = (1.0 - earlier.common_share) * figure["u"] * figure["u"]
        years = rules["years_k"][name]
        variance = own + years * years
        fleet = covariance_of(load, yardstick.middle["fleet"], load) + variance
        said = [other for other in book["observed"][name]["unless"] if other in earlier.values]
        far = value * value > rules["deviations"] * rules["deviations"] * fleet
        if far or any(other in yardstick.unused for other in said):
            yardstick.unused.append(name)
        elif len(said) == 0:
            observe(yardstick.offset, yardstick.covariance, load, value, variance)


def _span(middle: float, variance: float, coverage: float) -> Span:
    reach = coverage * sqrt(variance)
    return {"low": middle - reach, "high": middle + reach}


def _expected(name: str, load: Load, yardstick: Yardstick, coverage: float) -> Expected:
    middle = yardstick.middle
    at = along(load, middle["values"])
    open_ = covariance_of(load, middle["unknown"], load)
    for place, share in load:
        open_ = open_ + share * share * middle["weather"][place]
    fleet = _span(at, covariance_of(load, middle["fleet"], load) + open_, coverage)
    all_of_them = _span(
        at + along(load, yardstick.offset), covariance_of(load, yardstick.covariance, load) + open_, coverage
    )
    by = "chart" if name in yardstick.chart else "fleet"
    if name in yardstick.history and name not in yardstick.unused:
        by = "history"
    return {
        "by": by,
        "low": all_of_them["low"],
        "high": all_of_them["high"],
        "fleet": fleet,
        "chart": yardstick.chart.get(name),
        "history": yardstick.history.get(name),
        "outside": name in yardstick.unused,
    }


def expected_of(yardstick: Yardstick, rulebook: Rulebook) -> dict[str, Expected]:
    """What this car would show if it were healthy, for each quantity that has a yardstick.

    Args:
        yardstick: the fleet's middle and this car's offset [object]
        rulebook: the rulebook [books by name]

    Returns:
        {quantity: {by, low, high, fleet, chart, history, outside}} [unit of each quantity]

    Source: the rulebook's `yardsticks` book, `shown`; the spans hold 95 of 100 healthy cars.
    """
    book = rulebook["yardsticks"]
    expected: dict[str, Expected] = {}
    for name in book["shown"]:
        expected[name] = _expected(name, load_of(name, rulebook["distribution"]), yardstick, book["coverage"])
    return expected
