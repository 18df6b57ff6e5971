"""The baseline of a vehicle: what its tests showed that a person marked healthy, worked out from the filed visits.

Nothing here is stored or sent, and no rule on its use lives here; `history` holds those.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, cast

from sync.kernel import fold
from sync.kernel.assessment import assess
from sync.kernel.books import KindsBook, Rulebook
from sync.kernel.inputs import inputs_of
from sync.kernel.judgement import Assessment
from sync.kernel.operation import Op
from sync.kernel.visit import Baseline, Figure, HealthyTest, Test, Visit
from sync.records.logbook import Logbook
from sync.records.record import unwrapped

# As many as `vehicle.baseline` may hold.
ENTRIES_MOST = 50


def baseline_of(logbook: Logbook, vehicle: str) -> Baseline | None:
    """The baseline of a vehicle, for `vehicle.baseline` of its next visit.

    A test that was taken before the vehicle's latest refrigerant work, to the minute, is left out here; the rules count
    days only, and would let go of a healthy test taken after work of the same day.

    Args:
        logbook: the open logbook [Logbook]
        vehicle: its id [text]

    Returns:
        {entries: [{at, visit, test, refrigerant, blower, air, rear, values: {name: {value, u}}}], refrigerant_work_at},
        by `at`; None where no test of it was ever marked [Baseline]
    """
    with logbook.lock:
        marks = _marks(logbook.card_ops("vehicle", vehicle), logbook.kinds)
        if not marks:
            return None
        visits = [logbook.visit(visit) for visit in logbook.search.visits_of("vehicle", {vehicle})]
        times = [at for visit in visits for at in _work_times(visit, logbook.rulebook)]
        worked = max(times, default=None, key=_instant)
        tests = [test for mark in sorted(marks) if marks[mark] for test in _healthy_tests(logbook, *mark)]
    valid = sorted((test for test in tests if worked is None or _instant(worked) <= _instant(test["at"])), key=_when)
    baseline: Baseline = {"entries": valid[-ENTRIES_MOST:]}
    if worked is not None and all(worked[:10] < test["at"][:10] for test in valid):
        baseline["refrigerant_work_at"] = worked
    return baseline


def _marks(ops: list[Op], kinds: KindsBook) -> dict[tuple[str, str], bool]:
    """The last word on each marked test, by visit and test."""
    marks: dict[tuple[str, str], bool] = {}
    for op in cast(list[Op], fold.ordered(cast(list[dict[str, Any]], ops))):
        inner = unwrapped(op, kinds)
        body = inner["body"]
        if kinds["kinds"][inner["kind"]]["does"] == "mark":
            marks[str(body["visit"]), str(body["test"])] = bool(body["healthy"])
    return marks


def _healthy_tests(logbook: Logbook, visit_id: str, test_id: str) -> list[HealthyTest]:
    """What one marked test showed; none where the test was struck or the visit declared void."""
    visit = logbook.visit(visit_id)
    tests = [test for test in visit.get("tests") or [] if test["id"] == test_id and not visit.get("void")]
    return [_healthy_test(visit, test, logbook.rulebook) for test in tests]


def _healthy_test(visit: Visit, test: Test, rulebook: Rulebook) -> HealthyTest:
    conditions = test.get("conditions") or {}
    members = {
        "at": test["at"], "visit": visit["id"], "test": test["id"], "values": _figures(visit, test, rulebook),
        "refrigerant": (visit.get("vehicle") or {}).get("refrigerant"),
        "blower": conditions.get("blower"), "air": conditions.get("air"), "rear": conditions.get("rear"),
    }
    # What was not recorded is absent.
    return cast(HealthyTest, {name: value for name, value in members.items() if value is not None})


def _figures(visit: Visit, test: Test, rulebook: Rulebook) -> dict[str, Figure]:
    """The quantities that a history is made of, as far as the test shows them."""
    untyped = cast(dict[str, Any], visit), cast(dict[str, Any], test), cast(dict[str, Any], rulebook)
    assessment = cast(Assessment, assess(untyped[0], untyped[2]))
    [derived] = [judged["derived"] for judged in assessment["tests"] if judged["id"] == test["id"]]
    inputs = inputs_of(*untyped)
    figures: dict[str, Figure] = {}
    for name in rulebook["bands"]["history"]["spread"]:
        if name in derived:
            figures[name] = {"value": derived[name]["value"], "u": derived[name]["u"]}
        elif name in inputs.values:
            figures[name] = {"value": inputs.values[name], "u": inputs.u[name]}
    return figures


def _work_times(visit: Visit, rulebook: Rulebook) -> list[str]:
    """When refrigerant was worked on in a visit; the visit's start where that was not noted."""
    terms = rulebook["comparison"]
    work = [item.get("at") for item in visit.get("work") or [] if item["code"] in terms["refrigerant_work"]]
    moves = visit.get("refrigerant_moves") or []
    work += [item.get("at") for item in moves if item["kind"] in terms["refrigerant_moves"]]
    return [] if visit.get("void") else [at or visit["started_at"] for at in work]


def _instant(time: str) -> float:
    return datetime.fromisoformat(time).timestamp()


def _when(test: HealthyTest) -> float:
    return _instant(test["at"])
