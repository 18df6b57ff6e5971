"""What this very vehicle showed when a person marked it healthy, where the rules allow to use it as a yardstick.

The rules are rulebook data. Days are counted, never taken from a clock.
"""

from __future__ import annotations

from math import floor, sqrt

from sync.kernel.books import HistoryRules, Rulebook
from sync.kernel.judgement import Band
from sync.kernel.visit import HealthyTest, Test, Visit


def day_number(time: str) -> float:
    """Days since 1970-01-01 of the local date that a time begins with.

    Args:
        time: ISO 8601, beginning YYYY-MM-DD [text]

    Returns:
        the number of the day [days]

    Valid for: the proleptic Gregorian calendar, years 0 to 9999.

    Source: ISO 8601-1:2019 for the calendar; counted in 400-year cycles of 146,097 days from 1 March.
    """
    year, month, day = float(time[0:4]), float(time[5:7]), float(time[8:10])
    if month <= 2.0:
        year = year - 1.0
        month = month + 12.0
    cycle = floor(year / 400.0)
    of_cycle = year - cycle * 400.0
    of_year = floor((153.0 * (month - 3.0) + 2.0) / 5.0) + day - 1.0
    days = of_cycle * 365.0 + floor(of_cycle / 4.0) - floor(of_cycle / 100.0) + of_year
    return cycle * 146097.0 + days - 719468.0


def _usable(entry: HealthyTest, visit: Visit, test: Test, rules: HistoryRules) -> bool:
    vehicle, conditions = visit.get("vehicle") or {}, test.get("conditions") or {}
    if entry.get("refrigerant") is None or entry.get("refrigerant") != vehicle.get("refrigerant"):
        return False
    for name in ("blower", "air"):
        if entry.get(name) is None or entry.get(name) != conditions.get(name):
            return False
    if entry.get("rear") is not None and conditions.get("rear") is not None and entry["rear"] != conditions["rear"]:
        return False
    marked, now = day_number(entry["at"]), day_number(test["at"])
    if not 0.0 <= now - marked <= rules["days"]:
        return False
    baseline = vehicle.get("baseline")
    worked = None if baseline is None else baseline.get("refrigerant_work_at")
    return worked is None or day_number(worked) < marked


def _refrigerant_work_between(visit: Visit, test: Test, rulebook: Rulebook) -> bool:
    """Whether this visit itself worked on the refrigerant before this test."""
    if test.get("role") != "after":
        return False
    codes = rulebook["comparison"]
    if any(item["code"] in codes["refrigerant_work"] for item in visit.get("work") or []):
        return True
    return any(move["kind"] in codes["refrigerant_moves"] for move in visit.get("refrigerant_moves") or [])


def history_of(visit: Visit, test: Test, rulebook: Rulebook) -> dict[str, Band]:
    """The band of this vehicle's own healthy tests for each quantity.

    Args:
        visit: the visit with `vehicle.baseline` [JSON object]
        test: the test to be judged [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        {name: {low, high, by}}, empty where no earlier test may be used [K, °C, ratio]

    Source: the rulebook's `bands` book, `history` (common practice, no source).
    """
    rules = rulebook["bands"]["history"]
    bands: dict[str, Band] = {}
    baseline = (visit.get("vehicle") or {}).get("baseline")
    if baseline is None or _refrigerant_work_between(visit, test, rulebook):
        return bands
    for entry in baseline["entries"]:
        if not _usable(entry, visit, test, rules):
            continue
        for name in rules["spread"]:
            if name not in entry["values"]:
                continue
            value, u = entry["values"][name]["value"], entry["values"][name]["u"]
            reach = rules["coverage"] * sqrt(u * u + rules["spread"][name] * rules["spread"][name])
            if name not in bands:
                bands[name] = {"low": value - reach, "high": value + reach, "by": "history"}
            if value - reach < bands[name]["low"]:
                bands[name]["low"] = value - reach
            if value + reach > bands[name]["high"]:
                bands[name]["high"] = value + reach
    return bands
