"""The plots of the sheet as plain numbers and words: where the tests lie, and what moved them.

It chooses what is shown and says the finding in words; drawing is the page's work.
"""

from __future__ import annotations

from typing import Any

from sync.sheet.readings import COVERAGE, Test, value_at
from sync.sheet.wording import Phrases

TRACE_LEAST = 3
SPLIT, HIGH = "condenser_split_k", "readings.high_kpa_g"


def plots(assessment: dict[str, Any], tests: list[Test], phrases: Phrases) -> list[dict[str, Any]]:
    """The plots that belong to the tests shown side by side.

    Args:
        assessment: the visit's assessment [design shape]
        tests: the tests of the first table [list]
        phrases: words and units of the reader [object]

    Returns:
        none, one or two plots for the page to draw [plain data]
    """
    judged = {entry["id"]: entry for entry in assessment.get("tests") or []}
    where = _split(tests, judged, phrases) or _high(tests, phrases)
    found = [where, _change(assessment, phrases), _trace(tests, phrases)]
    return [plot for plot in found if plot]


def _split(tests: list[Test], judged: dict[str, Any], phrases: Phrases) -> dict[str, Any] | None:
    """Condensing over ambient, with the band of a healthy car where one is known."""
    entries = [(test, judged.get(test["id"]) or {}) for test in tests]
    held = [(test, entry) for test, entry in entries if SPLIT in (entry.get("derived") or {})]
    bands = [entry["expected"][SPLIT] for _, entry in held if SPLIT in (entry.get("expected") or {})]
    expected = bands[-1] if bands else None
    if not held or (len(held) < 2 and not expected):
        return None
    points = [_point(test, entry["derived"][SPLIT], "temperature_difference", phrases) for test, entry in held]
    band = _band(expected, phrases) if expected else None
    return _positions("split", "", "temperature_difference", (points, band), phrases)


def _high(tests: list[Test], phrases: Phrases) -> dict[str, Any] | None:
    """The high side as read, when the split cannot be had from two tests."""
    held = [(test, value) for test in tests if (value := value_at(test, HIGH)) is not None]
    if len(held) < 2:
        return None
    points = [_point(test, {"value": value, "u": None}, "pressure", phrases) for test, value in held]
    return _positions("high", "high", "pressure", (points, None), phrases)


def _point(test: Test, part: dict[str, Any], quantity: str, phrases: Phrases) -> dict[str, Any]:
    role = test.get("role") or "single"
    value, spread = phrases.in_unit(quantity, part["value"]), COVERAGE * (part.get("u") or 0.0)
    reach = abs(phrases.in_unit(quantity, spread) - phrases.in_unit(quantity, 0.0))
    word = phrases.code("role", role)
    key = "alt_point_spread" if spread else "alt_point"
    return {
        "label": phrases.say("plot", "point", role=word, value=phrases.figure(quantity, part["value"])),
        "said": phrases.say("plot", key, role=word, value=phrases.figure(quantity, part["value"]),
                            spread=phrases.figure(quantity, spread), unit=phrases.unit(quantity)),
        "role": word, "value": value, "low": value - reach, "high": value + reach, "hollow": role == "after",
    }


def _band(expected: dict[str, Any], phrases: Phrases) -> dict[str, Any]:
    low, high = (phrases.in_unit("temperature_difference", expected[edge]) for edge in ("low", "high"))
    label = phrases.say("plot", "history" if expected.get("by") == "history" else "healthy")
    return {"low": low, "high": high, "label": label}


def _positions(name: str, side: str, quantity: str, shown: tuple[list[dict[str, Any]], dict[str, Any] | None],
               phrases: Phrases) -> dict[str, Any]:
    points, band = shown
    axis, unit = phrases.say("plot", name), phrases.unit(quantity)
    said = phrases.words["list"]["semicolon"].join(point["said"] for point in points)
    alt = phrases.say("plot", "alt", axis=axis, points=said)
    if band:
        where = " ".join(phrases.say("plot", _where(point, band), role=point["role"]) for point in points)
        low, high = (phrases.number(band[edge], phrases.decimals(quantity)) for edge in ("low", "high"))
        alt = phrases.say("plot", "alt_band", axis=axis, points=said, band=band["label"], low=low, high=high, unit=unit,
                          finding=where)
    kept = [{key: point[key] for key in ("label", "value", "low", "high", "hollow")} for point in points]
    return {"kind": "positions", "axis": axis, "unit": unit, "side": side, "points": kept, "band": band, "alt": alt,
            "decimal": phrases.words["number"]["point"]}


def _where(point: dict[str, Any], band: dict[str, Any]) -> str:
    if point["value"] > band["high"]:
        return "band_above"
    return "band_below" if point["value"] < band["low"] else "band_within"


def _change(assessment: dict[str, Any], phrases: Phrases) -> dict[str, Any] | None:
    """The change of the high side in its parts, when they could be told apart."""
    part = ((assessment.get("comparison") or {}).get("high_side")) or {}
    names = ("raw_change_kpa", "conditions_share_kpa", "work_share_kpa", "interval_kpa")
    if any(part.get(name) is None for name in names):
        return None
    raw, weather, work = (float(part[name]) for name in names[:3])
    low, high = part["interval_kpa"]
    said = {name: phrases.signed("pressure", value)
            for name, value in (("raw", raw), ("weather", weather), ("work", work), ("low", low), ("high", high))}
    unit = phrases.unit("pressure")
    bars = [
        _bar("change_raw", raw, False, {"value": said["raw"]}, phrases),
        _bar("change_weather", weather, False, {"value": said["weather"]}, phrases),
        _bar("change_work", work, True, {"value": said["work"], "low": said["low"], "high": said["high"]}, phrases),
    ]
    bars[2].update(low=phrases.in_unit("pressure", low), high=phrases.in_unit("pressure", high))
    return {"kind": "change", "axis": phrases.say("plot", "change_axis"), "unit": unit, "side": "high", "bars": bars,
            "alt": phrases.say("plot", "change_alt", unit=unit, **said), "decimal": phrases.words["number"]["point"]}


def _bar(key: str, value: float, strong: bool, said: dict[str, str], phrases: Phrases) -> dict[str, Any]:
    return {"label": phrases.say("plot", key, **said), "value": phrases.in_unit("pressure", value), "strong": strong,
            "low": None, "high": None}


def _trace(tests: list[Test], phrases: Phrases) -> dict[str, Any] | None:
    """How the centre vent went during the tests that were followed point by point."""
    lines = [line for test in tests if (line := _followed(test, phrases))]
    if not lines:
        return None
    axis, unit = phrases.say("plot", "trace"), phrases.unit("temperature")
    said = phrases.words["list"]["semicolon"].join(_course(line, phrases) for line in lines)
    return {"kind": "trace", "axis": axis, "unit": unit, "across": phrases.say("plot", "trace_minutes"), "lines": lines,
            "alt": phrases.say("plot", "alt_trace", axis=axis, lines=said),
            "decimal": phrases.words["number"]["point"]}


def _followed(test: Test, phrases: Phrases) -> dict[str, Any] | None:
    """A test's vent over minutes, None where there are too few points to draw a line."""
    points = [[point["s"] / 60.0, phrases.in_unit("temperature", point["vent_c"])]
              for point in test.get("trace") or [] if point.get("vent_c") is not None]
    if len(points) < TRACE_LEAST:
        return None
    role = test.get("role") or "single"
    return {"label": phrases.code("role", role), "points": points, "dashed": role == "after"}


def _course(line: dict[str, Any], phrases: Phrases) -> str:
    start, end = line["points"][0], line["points"][-1]
    first, last = (phrases.number(point[1], phrases.decimals("temperature")) for point in (start, end))
    return phrases.say("plot", "alt_trace_line", role=line["label"], first=first, last=last,
                       minutes=phrases.number(end[0] - start[0], 0), unit=phrases.unit("temperature"))
