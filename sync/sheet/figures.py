"""The three numbers of page one: air from the vent, the pressure that the compressor works against, outside air.

Each has one plain line that explains the numbers; the work's share is stated only if it was judged.
"""

from __future__ import annotations

from typing import NamedTuple

from sync.kernel.judgement import Assessment, PressureChange
from sync.kernel.units import round_half_away
from sync.kernel.visit import Test, Typed, Visit
from sync.sheet.readings import typed_decimals, value_at
from sync.sheet.sheet_data import LargeFigure
from sync.sheet.wording import Phrases

DIFFERENCES = {"temperature": "temperature_difference", "pressure": "pressure"}


class Shown(NamedTuple):
    """A quantity of page one: its name, where a test holds it, what quantity it is, and on which side."""

    name: str
    path: str
    quantity: str
    side: str


class Pair(NamedTuple):
    """A quantity before and after [canonical], both as they are printed, with this many decimals."""

    values: tuple[float, float]
    texts: tuple[str, str]
    decimals: int


SHOWN = (Shown("vent", "readings.vent_c", "temperature", ""),
         Shown("high", "readings.high_kpa_g", "pressure", "high"),
         Shown("ambient", "conditions.ambient_c", "temperature", ""))


def figures(visit: Visit, assessment: Assessment, tests: list[Test], phrases: Phrases) -> list[LargeFigure]:
    """The numbers that were measured, before and after if both exist.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        up to three figures; none without a reading [list]
    """
    return [figure for shown in SHOWN if (figure := _figure(shown, visit, assessment, tests, phrases))]


def _figure(shown: Shown, visit: Visit, assessment: Assessment, tests: list[Test],
            phrases: Phrases) -> LargeFigure | None:
    taken = [(test, value) for test in tests if (value := value_at(test, shown.path)) is not None]
    if not taken:
        return None
    typed = visit.get("typed") or {}
    decimals = max(_decimals(shown, test, typed, phrases) for test, _ in taken)
    texts = [phrases.figure(shown.quantity, value, decimals) for _, value in taken]
    pair = len(taken) > 1
    line = (_change(shown, Pair((taken[0][1], taken[-1][1]), (texts[0], texts[-1]), decimals), assessment, phrases)
            if pair else _alone(shown, taken[0][0], tests, phrases))
    return {"name": shown.name, "label": phrases.say("figure", f"{shown.name}_{'tests' if pair else 'test'}"),
            "side": shown.side, "before": texts[0] if pair else "", "to": phrases.say("figure", "to") if pair else "",
            "value": texts[-1], "unit": phrases.unit(shown.quantity), "line": line}


def _decimals(shown: Shown, test: Test, typed: dict[str, Typed], phrases: Phrases) -> int:
    """As few decimals as a customer needs, more if the technician read more."""
    unit = phrases.unit_of(shown.quantity)
    least = phrases.rulebook["sheet_layout"]["figure_decimals"][shown.quantity].get(unit, 0)
    entry = typed.get(f"{test['id']}.{shown.path.rpartition('.')[2]}")
    return max(least, min(typed_decimals(entry["text"]), 1)) if entry and entry.get("unit") == unit else least


def _alone(shown: Shown, test: Test, tests: list[Test], phrases: Phrases) -> str:
    """That a number was measured in only one of two tests; what the vent temperature means."""
    if len(tests) > 1:
        return phrases.say("figure", f"only_{test['role']}")
    return phrases.say("figure", "felt") if shown.name == "vent" else ""


def _change(shown: Shown, pair: Pair, assessment: Assessment, phrases: Phrases) -> str:
    """The difference of the two printed numbers, and the work's share of it."""
    comparison, (first, last) = assessment["comparison"], pair.values
    way = "same" if pair.texts[0] == pair.texts[1] else "less" if last < first else "more"
    size = phrases.figure(DIFFERENCES[shown.quantity], _as_printed(shown, pair, phrases), pair.decimals)
    said = [phrases.say("figure", f"{shown.name}_{way}", difference=f"{size}\u00a0{phrases.unit(shown.quantity)}")]
    if comparison and shown.name == "vent":
        if comparison["vent"] and comparison["vent"]["verdict"] == "better" and way == "less":
            said.append(phrases.say("figure", "felt"))
        elif "vent_at_floor" in comparison["notes"]:
            said.append(phrases.say("figure", "at_floor"))
    if comparison and shown.name == "high":
        said += _in_equal_weather(comparison["high_side"], pair.decimals, phrases)
    return " ".join(said)


def _as_printed(shown: Shown, pair: Pair, phrases: Phrases) -> float:
    """The difference of the printed numbers, so that a reader who subtracts gets the same [canonical difference]."""
    first, last = (round_half_away(phrases.in_unit(shown.quantity, value), pair.decimals)
                   for value in pair.values)
    scale = phrases.in_unit(DIFFERENCES[shown.quantity], 1.0)
    return abs(last - first) / scale


def _in_equal_weather(side: PressureChange, decimals: int, phrases: Phrases) -> list[str]:
    """The work's share of the change, with its interval in words."""
    work, interval = side["work_share_kpa"], side["interval_kpa"]
    if work is None or interval is None:
        return []
    low, high = interval
    if low <= 0.0 <= high:
        return [phrases.say("figure", "equal_weather_unclear")]
    near, far = sorted((abs(low), abs(high)))
    sizes = {name: phrases.figure("pressure", value, decimals)
             for name, value in (("difference", abs(work)), ("near", near), ("far", far))}
    sizes["difference"] += f"\u00a0{phrases.unit('pressure')}"
    return [phrases.say("figure", "equal_weather_less" if work < 0 else "equal_weather_more", **sizes)]
