"""The small print of the sheet: how the figures were obtained and what couldn't be told.

It names instruments, uncertainty and the edition of the rules; it calculates nothing.
"""

from __future__ import annotations

from sync.kernel.judgement import Assessment
from sync.kernel.visit import Gauge, Test, Visit
from sync.sheet.blocks import plain
from sync.sheet.sheet_data import TextsBlock
from sync.sheet.wording import Phrases, sentence


def small(visit: Visit, assessment: Assessment, tests: list[Test], phrases: Phrases) -> TextsBlock:
    """The block of small print, last on the sheet.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        the block [TextsBlock]
    """
    texts = []
    if tests:
        instruments = [_instruments(visit, phrases), *_calibrated(visit, phrases)]
        texts.append(" ".join([*instruments, phrases.say("small", "spread"), _derived(assessment, phrases)]))
        texts += _unknown(assessment, tests, phrases)
    return {"name": "small", "kind": "small", "title": "", "texts": texts}


def confirmed(visit: Visit, phrases: Phrases) -> TextsBlock | None:
    """The cautions that were read and confirmed before the first reading.

    Args:
        visit: the visit [Visit]
        phrases: words of the reader [Phrases]

    Returns:
        the block; None if none was confirmed [TextsBlock]
    """
    codes = dict.fromkeys(item["code"] for item in visit.get("cautions") or [])
    if not codes:
        return None
    text = sentence(phrases.row([phrases.code("caution", code) for code in codes])) + "."
    return {"name": "confirmed", "kind": "cautions", "title": phrases.say("section", "confirmed"), "texts": [text]}


def edition(assessment: Assessment, phrases: Phrases) -> str:
    """The edition of rules and program that calculated the figures."""
    return phrases.say("small", "edition", rulebook=assessment["rulebook"][:12], app=assessment["app"])


def _instruments(visit: Visit, phrases: Phrases) -> str:
    instruments = visit.get("instruments") or {}
    gauges = {"low_gauge": instruments.get("low_gauge"), "high_gauge": instruments.get("high_gauge")}
    texts = [_gauge(gauge, phrases.say("small", name), phrases) for name, gauge in gauges.items()
             if gauge and gauge.get("class_pct") is not None]
    if instruments.get("thermometer_c") is not None:
        texts.append(phrases.say("small", "thermometer", value=phrases.difference(instruments["thermometer_c"])))
    if instruments.get("hygrometer_pct") is not None:
        texts.append(phrases.say("small", "hygrometer", value=plain(instruments["hygrometer_pct"], phrases)))
    if not texts:
        return phrases.say("small", "no_instruments")
    return phrases.say("small", "instruments", list=phrases.semicolons(texts))


def _calibrated(visit: Visit, phrases: Phrases) -> list[str]:
    """The last day of calibration of each instrument for which the visit names one."""
    instruments = visit.get("instruments") or {}
    days = {"low_gauge": (instruments.get("low_gauge") or {}).get("calibrated_until"),
            "high_gauge": (instruments.get("high_gauge") or {}).get("calibrated_until"),
            "thermometer_alone": instruments.get("thermometer_calibrated_until"),
            "hygrometer_alone": instruments.get("hygrometer_calibrated_until")}
    texts = [phrases.say("small", "calibrated_one", name=phrases.say("small", name), date=phrases.date(day))
             for name, day in days.items() if day]
    return [phrases.say("small", "calibrated", list=phrases.row(texts))] if texts else []


def _gauge(gauge: Gauge, name: str, phrases: Phrases) -> str:
    grade = plain(gauge["class_pct"], phrases)
    if gauge.get("span_kpa") is None:
        text = phrases.say("small", "gauge_no_span", name=name, **{"class": grade})
    else:
        span = phrases.measure("pressure", gauge["span_kpa"])
        text = phrases.say("small", "gauge", name=name, span=span, **{"class": grade})
    if gauge.get("zero_kpa"):
        text = phrases.say("small", "gauge_zero", gauge=text, zero=phrases.measure("pressure", gauge["zero_kpa"], 1))
    return text


def _derived(assessment: Assessment, phrases: Phrases) -> str:
    for test in assessment["tests"]:
        station = test["derived"].get("station_kpa")
        if station:
            decimals = 2 if phrases.unit_of("pressure") == "bar" else 1
            return phrases.say("small", "derived", pressure=phrases.measure("pressure", station["value"], decimals))
    return phrases.say("small", "derived_no_place")


def _unknown(assessment: Assessment, tests: list[Test], phrases: Phrases) -> list[str]:
    """What a reader may look for in vain, with the reading that would have provided it."""
    shown, wanted = [test["id"] for test in tests], phrases.rulebook["sheet_layout"]["unknown_shown"]
    needed: dict[str, list[str]] = {}
    for test in assessment["tests"]:
        for item in test["unknown"] if test["id"] in shown else []:
            if item["what"] in wanted and item["needs"]:
                needed.setdefault(item["what"], []).extend(_field(need, phrases) for need in item["needs"])
    texts = [phrases.say("small", "unknown", what=phrases.code("derived", what),
                         needs=phrases.listed(list(dict.fromkeys(needs)))) for what, needs in needed.items()]
    return [phrases.say("small", "unknown_all", list=phrases.semicolons(texts))] if texts else []


def _field(pointer: str, phrases: Phrases) -> str:
    return phrases.code("field", pointer.replace("/", ".").rsplit(".", 1)[-1])

