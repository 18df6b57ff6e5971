"""The plots of the sheet as plain numbers and words: where the tests lie, and what moved them.

It chooses what is shown and puts the finding into words; drawing is the page's work.
"""

from __future__ import annotations

from math import sqrt

from sync.kernel.inputs import instruments_of
from sync.kernel.judgement import Assessment
from sync.kernel.visit import Test, Visit
from sync.sheet.plot_data import Bar, ChangePlot, Course, ReadingsPlot, TracePlot
from sync.sheet.readings import COVERAGE
from sync.sheet.wording import Phrases
from sync.sheet.yardsticks import strips

TRACE_LEAST = 3


def plots(visit: Visit, assessment: Assessment, tests: list[Test], phrases: Phrases) -> list[ReadingsPlot]:
    """The plots for the tests shown side by side; one that would say nothing is left out.

    Args:
        visit: the visit [Visit]
        assessment: the visit's judgement [Assessment]
        tests: the tests of the first table [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        the yardstick strips, the parts of the change and the course of the tests, for the page to draw [list]
    """
    offered = (_change(assessment, phrases), _trace(visit, tests, phrases))
    return [*strips(assessment, tests, phrases), *(plot for plot in offered if plot)]


def _change(assessment: Assessment, phrases: Phrases) -> ChangePlot | None:
    """The change of the high side in its parts, if they could be told apart."""
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
        _bar("change_weather", weather, {"value": texts["weather"]}, phrases),
        {**of_work, "strong": True, "low": phrases.in_unit("pressure", low), "high": phrases.in_unit("pressure", high)},
    ]
    return {"kind": "change", "unit": unit, "side": "high", "bars": bars,
            "alt": phrases.say("plot", "change_alt", unit=unit, **texts), "decimal": phrases.formats.point}


def _bar(key: str, value: float, texts: dict[str, str], phrases: Phrases) -> Bar:
    return {"label": phrases.say("plot", key, **texts), "value": phrases.in_unit("pressure", value), "strong": False,
            "low": None, "high": None}


def _trace(visit: Visit, tests: list[Test], phrases: Phrases) -> TracePlot | None:
    """The course of the centre vent during tests that were logged point by point; none if it stayed the same."""
    lines = [line for test in tests if (line := _followed(test, phrases))]
    limit_k = instruments_of(visit, phrases.rulebook)["thermometer_c"]
    least = COVERAGE * phrases.in_unit("temperature_difference", limit_k / sqrt(3.0))
    if not any(_span(line) > least for line in lines):
        return None
    axis, unit = phrases.say("plot", "trace"), phrases.unit("temperature")
    courses = phrases.semicolons([_course(line, phrases) for line in lines])
    return {"kind": "trace", "axis": axis, "unit": unit, "across": phrases.say("plot", "trace_minutes"), "lines": lines,
            "alt": phrases.say("plot", "alt_trace", lines=courses), "decimal": phrases.formats.point}


def _span(line: Course) -> float:
    heights = [point[1] for point in line["points"]]
    return max(heights) - min(heights)


def _followed(test: Test, phrases: Phrases) -> Course | None:
    """A test's vent temperature over minutes; None if there are too few points for a line."""
    points = [[point["s"] / 60.0, phrases.in_unit("temperature", point["vent_c"])]
              for point in test.get("trace") or [] if point.get("vent_c") is not None]
    if len(points) < TRACE_LEAST:
        return None
    return {"label": phrases.code("role", test["role"]), "points": points, "dashed": test["role"] == "before"}


def _course(line: Course, phrases: Phrases) -> str:
    start, end = line["points"][0], line["points"][-1]
    first, last = (phrases.number(point[1], phrases.decimals("temperature")) for point in (start, end))
    return phrases.say("plot", "alt_trace_line", role=line["label"], first=first, last=last,
                       minutes=phrases.number(end[0] - start[0], 0), unit=phrases.unit("temperature"))
