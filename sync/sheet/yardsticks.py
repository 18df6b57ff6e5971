"""The yardstick strips of the sheet as plain numbers and words: where a reading lies, and compared with what.

It shows what the judgement compares a reading with and sets no limit of its own; drawing is the page's work.
"""

from __future__ import annotations

from typing import NamedTuple

from sync.kernel.judgement import Assessment, Expected, JudgedTest, Span
from sync.kernel.visit import Test
from sync.kernel.word_books import Strip
from sync.sheet.causes import judged_before
from sync.sheet.plot_data import Ends, YardstickPlot
from sync.sheet.readings import value_at
from sync.sheet.wording import Phrases


class Reading(NamedTuple):
    """A value of one test [unit of the quantity], and the test's judgement."""

    value: float
    judged: JudgedTest


def strips(assessment: Assessment, tests: list[Test], phrases: Phrases) -> list[YardstickPlot]:
    """A strip for each quantity of the book that was recorded and has a yardstick.

    Args:
        assessment: the visit's judgement [Assessment]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        the strips in the order of the book, numbers in the reader's units [list]
    """
    plots = [_plot(strip, readings, phrases) for strip in phrases.rulebook["strips"]["strips"]
             if (readings := _readings(strip, assessment, tests))]
    return [plot for plot in plots if plot["fleet"] or plot["chart"] or plot["own"] is not None]


def notes(assessment: Assessment, tests: list[Test], phrases: Phrases) -> list[str]:
    """What the strips' marks mean, why readings within their ranges can suggest a fault, and why no causes are named.

    Args:
        assessment: the visit's judgement [Assessment]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        one paragraph; none if there is nothing to say [list]
    """
    shown = strips(assessment, tests, phrases)
    keys = [phrases.say("plot", f"key_{part}") for part in ("fleet", "chart", "own")
            if any(plot[part] is not None for plot in shown)]
    judged = _judged(assessment, tests)
    if any(plot["dashed"] and plot["fleet"] for plot in shown):
        wider = _reasons([test for test in judged if test["causes"]], phrases)
        keys.append(phrases.cause("yardstick", "range", reasons=phrases.listed(wider)))
    if _together(assessment, tests, phrases):
        keys.append(phrases.cause("yardstick", "together"))
    if unjudged := _reasons([test for test in judged if not test["causes"]], phrases):
        keys.append(phrases.cause("said", "unjudged", reasons=phrases.listed(unjudged)))
    return [" ".join(keys)] if keys else []


def _judged(assessment: Assessment, tests: list[Test]) -> list[JudgedTest]:
    """The judgements of the shown tests that hold a reading."""
    shown = [test["id"] for test in tests if test.get("readings")]
    return [judged for judged in assessment["tests"] if judged["id"] in shown]


def _reasons(judged: list[JudgedTest], phrases: Phrases) -> list[str]:
    """What lies outside the conditions the yardsticks are for in these tests, each reason once."""
    codes = [code for test in judged for code in test["range"]]
    return [phrases.cause("range", code) for code in dict.fromkeys(codes)]


def _readings(strip: Strip, assessment: Assessment, tests: list[Test]) -> list[Reading]:
    """The quantity in the first and the last of the tests that have it."""
    judged = {test["id"]: test for test in assessment["tests"]}
    values = [(_value(strip, test, judged[test["id"]]), judged[test["id"]]) for test in tests]
    readings = [Reading(value, judgement) for value, judgement in values if value is not None]
    return [readings[0], readings[-1]] if len(readings) > 1 else readings


def _value(strip: Strip, test: Test, judged: JudgedTest) -> float | None:
    derived = judged["derived"].get(strip["of"])
    return derived["value"] if derived else value_at(test, f"readings.{strip['of']}")


def _plot(strip: Strip, readings: list[Reading], phrases: Phrases) -> YardstickPlot:
    quantity, last = strip["quantity"], readings[-1]
    expected = _in_scale(last.judged["expected"].get(strip["of"]), strip)
    unit, figures = phrases.unit(quantity), [phrases.figure(quantity, reading.value) for reading in readings]
    pair = phrases.cause("yardstick", "pair", before=figures[0], after=figures[-1])
    text = pair if figures[0] != figures[-1] else figures[0]
    said = _sentence(strip, last.value, f"{text}\u00a0{unit}", expected, phrases)
    return {
        "kind": "yardstick", "axis": f"{phrases.cause('yardstick', strip['of'])}, {unit}",
        "figures": text, "side": strip["side"],
        "low": phrases.in_unit(quantity, strip["low"]), "high": phrases.in_unit(quantity, strip["high"]),
        "fleet": _ends(expected["fleet"] if expected else None, quantity, phrases),
        "chart": _ends(expected["chart"] if expected else None, quantity, phrases),
        "own": phrases.in_unit(quantity, expected["history"]["value"]) if expected and expected["history"] else None,
        "pins": [{"value": phrases.in_unit(quantity, reading.value), "ring": place < len(readings) - 1}
                 for place, reading in enumerate(readings)],
        "dashed": len(last.judged["range"]) > 0,
        "sentence": said if _needs_words(last.value, expected) else "", "alt": said,
    }


def _in_scale(expected: Expected | None, strip: Strip) -> Expected | None:
    """The yardsticks with the range of healthy cars starting no lower than the scale: a split is never negative."""
    if expected is None or expected["fleet"] is None or expected["fleet"]["low"] >= strip["low"]:
        return expected
    return {**expected, "fleet": {"low": strip["low"], "high": expected["fleet"]["high"]}}


def _ends(span: Span | None, quantity: str, phrases: Phrases) -> Ends | None:
    if span is None:
        return None
    low, high = span["low"], span["high"]
    return {"low": phrases.in_unit(quantity, low), "high": phrases.in_unit(quantity, high),
            "labels": [phrases.figure(quantity, low), phrases.figure(quantity, high)]}


def narrowest(expected: Expected) -> Span:
    """The range of the narrowest yardstick; around an earlier test, the range of all yardsticks together."""
    by_name = {"fleet": expected["fleet"], "chart": expected["chart"]}
    return by_name.get(expected["by"]) or {"low": expected["low"], "high": expected["high"]}


def place_of(value: float, expected: Expected | None) -> str:
    """Where a reading lies in the narrowest yardstick: within, above or below; "within" if none is known."""
    if expected is None:
        return "within"
    span = narrowest(expected)
    return "below" if value < span["low"] else "above" if value > span["high"] else "within"


def _needs_words(value: float, expected: Expected | None) -> bool:
    """Whether the narrowest yardstick isn't met, or one is drawn that wasn't used."""
    return expected is not None and (expected["outside"] or place_of(value, expected) != "within")


def _sentence(strip: Strip, value: float, text: str, expected: Expected | None, phrases: Phrases) -> str:
    """The reading, the narrowest yardstick and where the reading lies; what else a person must know about it."""
    quantity, what = strip["quantity"], phrases.cause("yardstick", strip["of"])
    if expected is None:
        return phrases.cause("yardstick", "none", what=what, value=text)
    span, own, place = narrowest(expected), expected["history"], place_of(value, expected)
    said = [phrases.cause(
        "yardstick", f"{expected['by']}_{place}", what=what, value=text,
        low=phrases.figure(quantity, span["low"]), high=phrases.figure(quantity, span["high"]),
        own=phrases.figure(quantity, own["value"]) if own else "", date=phrases.date(own["at"]) if own else "")]
    if place != "within" and expected["by"] != "fleet" and _inside(value, expected["fleet"]):
        said.append(phrases.cause("yardstick", "wider"))
    return " ".join([*said, phrases.cause("yardstick", "outside")] if expected["outside"] else said)


def _inside(value: float, span: Span | None) -> bool:
    return span is not None and span["low"] <= value <= span["high"]


def _together(assessment: Assessment, tests: list[Test], phrases: Phrases) -> bool:
    """Whether the test that has causes suggests a fault although all its readings are within healthy cars' ranges."""
    leading = judged_before(assessment, tests)
    if leading is None or leading["causes"][0]["id"] == "healthy":
        return False
    inside: list[bool] = []
    for strip in phrases.rulebook["strips"]["strips"]:
        readings = _readings(strip, assessment, tests)
        expected = _in_scale(readings[-1].judged["expected"].get(strip["of"]), strip) if readings else None
        values = [reading.value for reading in readings if reading.judged is leading]
        inside += [_inside(value, expected["fleet"]) for value in values] if expected else []
    return len(inside) > 0 and all(inside)
