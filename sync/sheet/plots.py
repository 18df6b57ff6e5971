"""The plots of the sheet as plain numbers and words: where the tests lie, and what moved them.

It chooses what is shown and says the finding in words; drawing is the page's work.
"""

from __future__ import annotations

from typing import NamedTuple

from sync.kernel.judgement import Assessment, Band, JudgedTest
from sync.kernel.visit import Figure, Test
from sync.sheet.plot_data import Bar, ChangePlot, Course, Mark, PlotBand, PositionsPlot, ReadingsPlot, TracePlot
from sync.sheet.readings import COVERAGE, value_at
from sync.sheet.wording import Phrases

TRACE_LEAST = 3
SPLIT, HIGH = "condenser_split_k", "readings.high_kpa_g"


class Point(NamedTuple):
    """A mark of a plot, its test's role, and both in words for those who cannot see it."""

    mark: Mark
    role: str
    alt: str


def plots(assessment: Assessment, tests: list[Test], phrases: Phrases) -> list[ReadingsPlot]:
    """The plots that belong to the tests shown side by side.

    Args:
        assessment: the visit's judgement [Assessment]
        tests: the tests of the first table [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        up to three plots for the page to draw [list]
    """
    judged = {test["id"]: test for test in assessment["tests"]}
    where = _split(tests, judged, phrases) or _high(tests, phrases)
    offered = (where, _change(assessment, phrases), _trace(tests, phrases))
    return [plot for plot in offered if plot]


def _split(tests: list[Test], judged: dict[str, JudgedTest], phrases: Phrases) -> PositionsPlot | None:
    """Condensing over ambient, with the band of a healthy car where one is known."""
    judgements = [(test, judged[test["id"]]) for test in tests if SPLIT in judged[test["id"]]["derived"]]
    bands = [judgement["expected"][SPLIT] for _, judgement in judgements if SPLIT in judgement["expected"]]
    expected = bands[-1] if bands else None
    if not judgements or (len(judgements) < 2 and not expected):
        return None
    points = [_point(test, judgement["derived"][SPLIT], "temperature_difference", phrases)
              for test, judgement in judgements]
    band = _band(expected, phrases) if expected else None
    return _positions("split", "", "temperature_difference", (points, band), phrases)


def _high(tests: list[Test], phrases: Phrases) -> PositionsPlot | None:
    """The high side as read, when the split cannot be had from two tests."""
    readings = [(test, value) for test in tests if (value := value_at(test, HIGH)) is not None]
    if len(readings) < 2:
        return None
    points = [_point(test, {"value": value, "u": 0.0}, "pressure", phrases) for test, value in readings]
    return _positions("high", "high", "pressure", (points, None), phrases)


def _point(test: Test, figure: Figure, quantity: str, phrases: Phrases) -> Point:
    value, spread = phrases.in_unit(quantity, figure["value"]), COVERAGE * figure["u"]
    reach = abs(phrases.in_unit(quantity, spread) - phrases.in_unit(quantity, 0.0))
    role, text = phrases.code("role", test["role"]), phrases.figure(quantity, figure["value"])
    alt = phrases.say("plot", "alt_point_spread" if spread else "alt_point", role=role, value=text,
                      spread=phrases.figure(quantity, spread), unit=phrases.unit(quantity))
    mark: Mark = {"label": phrases.say("plot", "point", role=role, value=text), "value": value, "low": value - reach,
                  "high": value + reach, "hollow": test["role"] == "after"}
    return Point(mark, role, alt)


def _band(expected: Band, phrases: Phrases) -> PlotBand:
    low, high = (phrases.in_unit("temperature_difference", edge) for edge in (expected["low"], expected["high"]))
    label = phrases.say("plot", "history" if expected["by"] == "history" else "healthy")
    return {"low": low, "high": high, "label": label}


def _positions(name: str, side: str, quantity: str, shown: tuple[list[Point], PlotBand | None],
               phrases: Phrases) -> PositionsPlot:
    points, band = shown
    axis, unit = phrases.say("plot", name), phrases.unit(quantity)
    listed = phrases.semicolons([point.alt for point in points])
    alt = phrases.say("plot", "alt", axis=axis, points=listed)
    if band:
        where = " ".join(phrases.say("plot", _where(point.mark, band), role=point.role) for point in points)
        low, high = (phrases.number(edge, phrases.decimals(quantity)) for edge in (band["low"], band["high"]))
        alt = phrases.say("plot", "alt_band", axis=axis, points=listed, band=band["label"], low=low, high=high,
                          unit=unit, finding=where)
    return {"kind": "positions", "axis": axis, "unit": unit, "side": side, "points": [point.mark for point in points],
            "band": band, "alt": alt, "decimal": phrases.words["number"]["point"]}


def _where(mark: Mark, band: PlotBand) -> str:
    if mark["value"] > band["high"]:
        return "band_above"
    return "band_below" if mark["value"] < band["low"] else "band_within"


def _change(assessment: Assessment, phrases: Phrases) -> ChangePlot | None:
    """The change of the high side in its parts, when they could be told apart."""
    if not assessment["comparison"]:
        return None
    side = assessment["comparison"]["high_side"]
    raw, weather, work = side["raw_change_kpa"], side["conditions_share_kpa"], side["work_share_kpa"]
    interval = side["interval_kpa"]
    if raw is None or weather is None or work is None or interval is None:
        return None
    low, high = interval
    texts = {name: phrases.signed("pressure", value)
             for name, value in (("raw", raw), ("weather", weather), ("work", work), ("low", low), ("high", high))}
    unit = phrases.unit("pressure")
    of_work = _bar("change_work", work, {"value": texts["work"], "low": texts["low"], "high": texts["high"]}, phrases)
    bars: list[Bar] = [
        _bar("change_raw", raw, {"value": texts["raw"]}, phrases),
        _bar("change_weather", weather, {"value": texts["weather"]}, phrases),
        {**of_work, "strong": True, "low": phrases.in_unit("pressure", low), "high": phrases.in_unit("pressure", high)},
    ]
    return {"kind": "change", "axis": phrases.say("plot", "change_axis"), "unit": unit, "side": "high", "bars": bars,
            "alt": phrases.say("plot", "change_alt", unit=unit, **texts), "decimal": phrases.words["number"]["point"]}


def _bar(key: str, value: float, texts: dict[str, str], phrases: Phrases) -> Bar:
    return {"label": phrases.say("plot", key, **texts), "value": phrases.in_unit("pressure", value), "strong": False,
            "low": None, "high": None}


def _trace(tests: list[Test], phrases: Phrases) -> TracePlot | None:
    """How the centre vent went during the tests that were followed point by point."""
    lines = [line for test in tests if (line := _followed(test, phrases))]
    if not lines:
        return None
    axis, unit = phrases.say("plot", "trace"), phrases.unit("temperature")
    courses = phrases.semicolons([_course(line, phrases) for line in lines])
    return {"kind": "trace", "axis": axis, "unit": unit, "across": phrases.say("plot", "trace_minutes"), "lines": lines,
            "alt": phrases.say("plot", "alt_trace", axis=axis, lines=courses),
            "decimal": phrases.words["number"]["point"]}


def _followed(test: Test, phrases: Phrases) -> Course | None:
    """A test's vent over minutes, None where there are too few points to draw a line."""
    points = [[point["s"] / 60.0, phrases.in_unit("temperature", point["vent_c"])]
              for point in test.get("trace") or [] if point.get("vent_c") is not None]
    if len(points) < TRACE_LEAST:
        return None
    return {"label": phrases.code("role", test["role"]), "points": points, "dashed": test["role"] == "after"}


def _course(line: Course, phrases: Phrases) -> str:
    start, end = line["points"][0], line["points"][-1]
    first, last = (phrases.number(point[1], phrases.decimals("temperature")) for point in (start, end))
    return phrases.say("plot", "alt_trace_line", role=line["label"], first=first, last=last,
                       minutes=phrases.number(end[0] - start[0], 0), unit=phrases.unit("temperature"))
