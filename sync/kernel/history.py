"""What this very vehicle showed when a person marked it healthy, if the rules allow it as a yardstick.

The rules are rulebook data. Days are counted, never taken from a clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor

from sync.kernel.books import HistoryRules, Rulebook
from sync.kernel.conditions import Surroundings, codes_of, settings_at, way_of
from sync.kernel.figure import Figure
from sync.kernel.inputs import instruments_of
from sync.kernel.ranking import Settings
from sync.kernel.vehicle import HealthyTest
from sync.kernel.visit import Test, Visit


def day_number(time: str) -> float:
    """Days since 1970-01-01 of the local date at the start of a time.

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


@dataclass(frozen=True)
class Earlier:
    """An earlier test of this vehicle: its values, its time, its surroundings, and the gauges' common share."""

    values: dict[str, Figure]
    at: str
    settings: Settings | None
    common_share: float


def _earlier_settings(entry: HealthyTest, visit: Visit, test: Test, rulebook: Rulebook) -> Settings | None:
    """The surroundings of the earlier test; None if its weather wasn't recorded with it."""
    values = entry["values"]
    if "ambient_c" not in values:
        return None
    codes = codes_of(visit, test)
    codes["suction_at"] = entry.get("suction_at") or codes["suction_at"]
    entering, damp = values.get("entering_c"), values.get("humidity_ratio")
    around: Surroundings = {
        "ambient_c": values["ambient_c"]["value"],
        "entering_c": None if entering is None else entering["value"],
        "humidity_g_kg": None,
        "outside_g_kg": None if damp is None else 1000.0 * damp["value"],
        "rpm": entry.get("rpm"),
        "way": way_of(entry.get("air"), entry.get("windows")),
    }
    return settings_at(around, codes, rulebook["causes"]["settings"])


def earlier_of(visit: Visit, test: Test, rulebook: Rulebook) -> Earlier | None:
    """The latest test of this very vehicle that a person marked healthy and that the rules allow.

    Args:
        visit: the visit with `vehicle.baseline` [JSON object]
        test: the test to be judged [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        its values and surroundings; None if no earlier test may be used [unit of each quantity]

    Source: the rulebook's `yardsticks` book, `history` (common practice, no source).
    """
    baseline = (visit.get("vehicle") or {}).get("baseline")
    if baseline is None or _refrigerant_work_between(visit, test, rulebook):
        return None
    latest: HealthyTest | None = None
    for entry in baseline["entries"]:
        later = latest is None or day_number(entry["at"]) >= day_number(latest["at"])
        if later and _usable(entry, visit, test, rulebook["yardsticks"]["history"]):
            latest = entry
    if latest is None:
        return None
    share = instruments_of(visit, rulebook)["common_share"]
    common = share if 0.0 <= share <= 1.0 else 0.0
    return Earlier(latest["values"], latest["at"], _earlier_settings(latest, visit, test, rulebook), common)
