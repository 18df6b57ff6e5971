"""The small print of the sheet: how the figures were obtained and what could not be told.

It names instruments, uncertainty and the edition of the rules; it works nothing out.
"""

from __future__ import annotations

from typing import Any

from sync.sheet.blocks import plain
from sync.sheet.readings import Test
from sync.sheet.wording import Phrases

Visit = dict[str, Any]


def small(visit: Visit, assessment: dict[str, Any], tests: list[Test], phrases: Phrases) -> dict[str, Any]:
    """The block of small print, last on the sheet.

    Args:
        visit: the visit [design shape]
        assessment: its assessment [design shape]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [object]

    Returns:
        {kind, title, texts} [plain data]
    """
    texts = []
    if tests:
        held = [_instruments(visit, phrases), *_calibrated(visit, phrases)]
        texts.append(" ".join([*held, phrases.say("small", "spread"), _derived(assessment, phrases)]))
        texts += _unknown(assessment, tests, phrases)
    texts += _confirmed(visit, phrases)
    return {"kind": "small", "title": phrases.say("section", "small"), "texts": texts}


def edition(assessment: dict[str, Any], phrases: Phrases) -> str:
    """Which edition of rules and program worked the figures out."""
    return phrases.say("small", "edition", rulebook=str(assessment.get("rulebook") or "")[:12],
                       app=str(assessment.get("app") or ""))


def _instruments(visit: Visit, phrases: Phrases) -> str:
    held = visit.get("instruments") or {}
    named = [_gauge(held[name], phrases.say("small", name), phrases) for name in ("low_gauge", "high_gauge")
             if (held.get(name) or {}).get("class_pct") is not None]
    if held.get("thermometer_c") is not None:
        value = phrases.figure("temperature_difference", held["thermometer_c"])
        named.append(phrases.say("small", "thermometer", value=value, unit=phrases.unit("temperature")))
    if held.get("hygrometer_pct") is not None:
        named.append(phrases.say("small", "hygrometer", value=plain(held["hygrometer_pct"], phrases)))
    if not named:
        return phrases.say("small", "no_instruments")
    return phrases.say("small", "instruments", list=phrases.words["list"]["semicolon"].join(named))


def _calibrated(visit: Visit, phrases: Phrases) -> list[str]:
    """The last day of calibration of each instrument that the visit names one for."""
    held = visit.get("instruments") or {}
    days = {name: (held.get(name) or {}).get("calibrated_until") for name in ("low_gauge", "high_gauge")}
    days |= {name: held.get(f"{name}_calibrated_until") for name in ("thermometer", "hygrometer")}
    named = [f"{phrases.words['small']['named'][name]} {phrases.date(day)}" for name, day in days.items() if day]
    return [phrases.say("small", "calibrated", list=phrases.row(named))] if named else []


def _gauge(gauge: dict[str, Any], name: str, phrases: Phrases) -> str:
    grade = plain(gauge["class_pct"], phrases)
    if gauge.get("span_kpa") is None:
        text = phrases.say("small", "gauge_no_span", name=name, **{"class": grade})
    else:
        span = phrases.measure("pressure", gauge["span_kpa"])
        text = phrases.say("small", "gauge", name=name, span=span, **{"class": grade})
    if gauge.get("zero_kpa"):
        text = phrases.say("small", "gauge_zero", gauge=text, zero=phrases.measure("pressure", gauge["zero_kpa"], 1))
    return text


def _derived(assessment: dict[str, Any], phrases: Phrases) -> str:
    for entry in assessment.get("tests") or []:
        part = (entry.get("derived") or {}).get("station_kpa")
        if part:
            decimals = 2 if phrases.unit_of("pressure") == "bar" else 1
            return phrases.say("small", "derived", pressure=phrases.measure("pressure", part["value"], decimals))
    return phrases.say("small", "derived_no_place")


def _unknown(assessment: dict[str, Any], tests: list[Test], phrases: Phrases) -> list[str]:
    """What a reader may look for in vain, with the reading that would have given it."""
    shown, wanted = [test["id"] for test in tests], phrases.words["unknown_shown"]
    needed: dict[str, list[str]] = {}
    for entry in assessment.get("tests") or []:
        for item in entry.get("unknown") or [] if entry["id"] in shown else []:
            if item["what"] in wanted and item.get("needs"):
                needs = item["needs"] if isinstance(item["needs"], list) else [item["needs"]]
                needed.setdefault(item["what"], []).extend(_field(need, phrases) for need in needs)
    said = [phrases.say("small", "unknown", what=phrases.code("derived", what),
                        needs=phrases.listed(list(dict.fromkeys(needs)))) for what, needs in needed.items()]
    listed = phrases.words["list"]["semicolon"].join(said)
    return [f"{phrases.say('next', 'unknown')} {listed}."] if said else []


def _field(pointer: str, phrases: Phrases) -> str:
    return phrases.code("field", str(pointer).replace("/", ".").rsplit(".", 1)[-1])


def _confirmed(visit: Visit, phrases: Phrases) -> list[str]:
    codes = dict.fromkeys(item["code"] for item in visit.get("cautions") or [])
    if not codes:
        return []
    return [phrases.say("small", "confirmed", list=phrases.row([phrases.code("caution", code) for code in codes]))]
