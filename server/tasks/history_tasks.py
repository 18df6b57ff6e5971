"""The tasks of a vehicle's history: its tests over the years with what they are held against, and healthy ones marked.

Nothing here judges; the judgement of each visit is the kernel's.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from datetime import datetime
from typing import TypedDict
from weakref import WeakKeyDictionary

from server.tasks.messages import Gist, TaskArguments
from server.tasks.sheet_cache import State, state_of
from server.tasks.sheet_data import edition
from server.tasks.task import Task
from server.tasks.visit_gist import gist_of
from sync.isolation import each_apart
from sync.kernel.assessment import assess
from sync.kernel.card import marks_of
from sync.kernel.judgement import Expected, JudgedTest
from sync.kernel.visit import Test, Visit
from sync.language.reader import language
from sync.records.logbook import Logbook, UnknownVisit
from sync.wire import op_line
from sync.work import desk_operations

SPLIT, VENT = "condenser_split_k", "vent_c"
# Visits of one vehicle that are listed, the newest; a car has fewer.
VISITS_MOST = 60


class HistoryTest(TypedDict):
    """One test of a vehicle [°C, kPa, K]; None where it was not read, `expected` where nothing is known of it."""

    id: str
    role: str
    ambient_c: float | None
    low_kpa_g: float | None
    high_kpa_g: float | None
    split_k: float | None
    vent_c: float | None
    expected_split: Expected | None
    expected_vent: Expected | None
    healthy: bool


class HistoryVisit(TypedDict):
    """One visit of a vehicle: when, what was done, what it came to, and its tests in their order."""

    visit: str
    started_at: str
    work: list[str]
    moves: list[str]
    gist: Gist
    tests: list[HistoryTest]


# What was worked out of the latest visits that were looked at; only what is filed of a visit can change it.
_KEPT_MOST = 500
_Ground = tuple[State, dict[str, bool], str, str]
_kept: WeakKeyDictionary[Logbook, OrderedDict[str, tuple[_Ground, HistoryVisit | None]]] = WeakKeyDictionary()


def _history(logbook: Logbook, arguments: TaskArguments) -> list[HistoryVisit]:
    """The visits of a vehicle that were not declared void, oldest first."""
    vehicle = str(arguments["id"])
    with logbook.lock:
        marks = marks_of(logbook.card_ops("vehicle", vehicle), logbook.kinds)
        names = logbook.search.visits_of("vehicle", {vehicle})[:VISITS_MOST]
    rows, _ = each_apart(names, lambda name: _looked_up(name, marks.get(name, {}), logbook))
    return sorted((row for row in rows if row is not None), key=lambda row: datetime.fromisoformat(row["started_at"]))


def _looked_up(name: str, marks: dict[str, bool], logbook: Logbook) -> HistoryVisit | None:
    """One visit, worked out only if something of it changed since; None for a void one."""
    kept = _kept.setdefault(logbook, OrderedDict())
    ground = (state_of(logbook, name), marks, language(), edition())
    found = kept.get(name)
    if found is not None and found[0] == ground:
        return found[1]
    visit = logbook.visit(name)
    row = None if visit.get("void") else _of_visit(visit, marks, logbook)
    kept[name] = (ground, row)
    while len(kept) > _KEPT_MOST:
        kept.popitem(last=False)
    return row


def _of_visit(visit: Visit, marks: dict[str, bool], logbook: Logbook) -> HistoryVisit:
    judged = assess(visit, logbook.rulebook, edition())
    tests = [_of_test(test, of_test, marks.get(test["id"], False))
             for test, of_test in zip(visit.get("tests") or [], judged["tests"], strict=True)]
    return {
        "visit": visit["id"], "started_at": visit["started_at"],
        "work": list(dict.fromkeys(item["code"] for item in visit.get("work") or [])),
        "moves": list(dict.fromkeys(item["kind"] for item in visit.get("refrigerant_moves") or [])),
        "gist": gist_of(visit, judged, logbook.rulebook), "tests": tests,
    }


def _of_test(test: Test, judged: JudgedTest, healthy: bool) -> HistoryTest:
    readings, split = test.get("readings") or {}, judged["derived"].get(SPLIT)
    return {
        "id": test["id"], "role": test["role"], "ambient_c": (test.get("conditions") or {}).get("ambient_c"),
        "low_kpa_g": readings.get("low_kpa_g"), "high_kpa_g": readings.get("high_kpa_g"),
        "split_k": split["value"] if split else None, "vent_c": readings.get("vent_c"),
        "expected_split": judged["expected"].get(SPLIT), "expected_vent": judged["expected"].get(VENT),
        "healthy": healthy,
    }


def _mark(logbook: Logbook, arguments: TaskArguments) -> str:
    """Say of a test whether it showed the vehicle healthy; the id of the operation."""
    if not op_line.is_id(str(arguments["visit"])):
        raise UnknownVisit(visit=str(arguments["visit"])[:80])
    offset = datetime.now().astimezone().utcoffset()
    when = (time.time_ns() // 1_000_000, int(offset.total_seconds() // 60) if offset else 0)
    mark: desk_operations.Mark = {"vehicle": str(arguments["id"]), "visit": str(arguments["visit"]),
                                  "test": str(arguments["test"]), "healthy": bool(arguments["healthy"])}
    return desk_operations.mark(logbook, mark, when)


TASKS: dict[str, Task] = {"history": _history, "mark": _mark}
