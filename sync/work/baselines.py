"""The baseline of a vehicle: what its tests marked healthy showed, calculated from the filed visits.

Nothing here is stored or sent, and no rule on its use lives here; `history` holds those.
"""

from __future__ import annotations

from datetime import datetime
from typing import cast

from sync.isolation import each_apart
from sync.kernel.assessment import assess
from sync.kernel.books import Rulebook
from sync.kernel.card import marks_of
from sync.kernel.figure import Figure
from sync.kernel.inputs import inputs_of
from sync.kernel.vehicle import Baseline, HealthyTest
from sync.kernel.visit import Test, Visit
from sync.records.logbook import Logbook

# The most that `vehicle.baseline` may hold.
ENTRIES_MOST = 50


def baseline_of(logbook: Logbook, vehicle: str) -> Baseline | None:
    """The baseline of a vehicle, for `vehicle.baseline` of its next visit.

    A test taken before the vehicle's latest refrigerant work, to the minute, is left out here. The rules count only
    days, and would drop a healthy test taken after work on the same day.

    Args:
        logbook: the open logbook [Logbook]
        vehicle: its id [text]

    Returns:
        {entries: [{at, visit, test, settings, values: {name: {value, u}}}], refrigerant_work_at}, by `at`; None if no
        test of it was ever marked [Baseline]
    """
    with logbook.lock:
        marks = marks_of(logbook.card_ops("vehicle", vehicle), logbook.kinds)
        if not marks:
            return None
        mine = logbook.search.visits_of("vehicle", {vehicle})
        work, _ = each_apart(mine, lambda visit: _work_times(logbook.visit(visit), logbook.rulebook))
        worked = max((at for times in work for at in times), default=None, key=_instant)
        healthy = {visit: sorted(test for test in marks[visit] if marks[visit][test]) for visit in sorted(marks)}
        of_visits, _ = each_apart(healthy, lambda visit: _healthy_tests(logbook, visit, healthy[visit]))
        tests = [test for of_visit in of_visits for test in of_visit]
    valid = sorted((test for test in tests if worked is None or _instant(worked) <= _instant(test["at"])), key=_when)
    baseline: Baseline = {"entries": valid[-ENTRIES_MOST:]}
    if worked is not None and all(worked[:10] < test["at"][:10] for test in valid):
        baseline["refrigerant_work_at"] = worked
    return baseline


def _healthy_tests(logbook: Logbook, visit_id: str, test_ids: list[str]) -> list[HealthyTest]:
    """What the marked tests of one visit showed; none if a test was struck or the visit declared void."""
    if not test_ids:
        return []
    visit = logbook.visit(visit_id)
    tests = [] if visit.get("void") else visit.get("tests") or []
    return [healthy_test(visit, test, logbook.rulebook) for name in test_ids for test in tests if test["id"] == name]


def healthy_test(visit: Visit, test: Test, rulebook: Rulebook) -> HealthyTest:
    """What a test provides as a yardstick for later ones: its quantities, its surroundings and its settings.

    Args:
        visit: the visit [Visit]
        test: one of its tests [Test]
        rulebook: the rulebook [books by name]

    Returns:
        the entry for `vehicle.baseline` [HealthyTest]
    """
    conditions, readings = test.get("conditions") or {}, test.get("readings") or {}
    members = {
        "at": test["at"], "visit": visit["id"], "test": test["id"], "values": _figures(visit, test, rulebook),
        "refrigerant": (visit.get("vehicle") or {}).get("refrigerant"),
        "blower": conditions.get("blower"), "air": conditions.get("air"), "rear": conditions.get("rear"),
        "windows": conditions.get("windows"), "rpm": conditions.get("rpm"), "suction_at": readings.get("suction_at"),
    }
    # What wasn't recorded is absent.
    return cast(HealthyTest, {name: value for name, value in members.items() if value is not None})


def _figures(visit: Visit, test: Test, rulebook: Rulebook) -> dict[str, Figure]:
    """The quantities of a history and the weather at the time, as far as the test shows them."""
    [derived] = [judged["derived"] for judged in assess(visit, rulebook)["tests"] if judged["id"] == test["id"]]
    inputs = inputs_of(visit, test, rulebook)
    figures: dict[str, Figure] = {}
    rules = rulebook["yardsticks"]["history"]
    for name in (*rules["years_k"], *rules["surroundings"]):
        if name in derived:
            figures[name] = {"value": derived[name]["value"], "u": derived[name]["u"]}
        elif name in inputs.values:
            figures[name] = {"value": inputs.values[name], "u": inputs.u[name]}
    return figures


def _work_times(visit: Visit, rulebook: Rulebook) -> list[str]:
    """When refrigerant was worked on in a visit; the visit's start if that wasn't noted."""
    terms = rulebook["comparison"]
    work = [item.get("at") for item in visit.get("work") or [] if item["code"] in terms["refrigerant_work"]]
    moves = visit.get("refrigerant_moves") or []
    work += [item.get("at") for item in moves if item["kind"] in terms["refrigerant_moves"]]
    return [] if visit.get("void") else [at or visit["started_at"] for at in work]


def _instant(time: str) -> float:
    return datetime.fromisoformat(time).timestamp()


def _when(test: HealthyTest) -> float:
    return _instant(test["at"])
