"""The baseline of a vehicle: what its tests showed that a person marked healthy, worked out from the filed visits.

Nothing here is stored or sent, and no rule on its use lives here; `history` holds those.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, cast

from sync.isolation import each_apart
from sync.kernel.assessment import assess
from sync.kernel.card import marks_of
from sync.kernel.inputs import inputs_of
from sync.records.logbook import Logbook

# As many as `vehicle.baseline` may hold.
ENTRIES_MOST = 50

Entry = dict[str, Any]


def baseline_of(logbook: Logbook, vehicle: str) -> dict[str, Any] | None:
    """The baseline of a vehicle, for `vehicle.baseline` of its next visit.

    A test that was taken before the vehicle's latest refrigerant work, to the minute, is left out here; the rules count
    days only, and would let go of a healthy test taken after work of the same day.

    Args:
        logbook: the open logbook [Logbook]
        vehicle: its id [text]

    Returns:
        {entries: [{at, visit, test, refrigerant, blower, air, rear, values: {name: {value, u}}}], refrigerant_work_at},
        by `at`; None where no test of it was ever marked [JSON object]
    """
    with logbook.lock:
        marks = marks_of(logbook.card_ops("vehicle", vehicle), logbook.kinds)
        if not marks:
            return None
        mine = logbook.search.visits_of("vehicle", {vehicle})
        worked_on, _ = each_apart(mine, lambda visit: _work_times(logbook.visit(visit), logbook.rulebook))
        worked = max((at for times in worked_on for at in times), default=None, key=_instant)
        healthy = {visit: sorted(test for test in marks[visit] if marks[visit][test]) for visit in sorted(marks)}
        of_visits, _ = each_apart(healthy, lambda visit: [
            entry for test in healthy[visit] for entry in _entry(logbook, visit, test)])
        entries = [entry for of_visit in of_visits for entry in of_visit]
    kept = sorted((one for one in entries if worked is None or _instant(worked) <= _instant(one["at"])), key=_when)
    made: dict[str, Any] = {"entries": kept[-ENTRIES_MOST:]}
    if worked is not None and all(worked[:10] < entry["at"][:10] for entry in kept):
        made["refrigerant_work_at"] = worked
    return made


def _entry(logbook: Logbook, visit_id: str, test_id: str) -> list[Entry]:
    """The entry of one marked test; none where the test was struck or the visit declared void."""
    visit = cast(dict[str, Any], logbook.visit(visit_id))
    tests = [test for test in visit.get("tests") or [] if test["id"] == test_id and not visit.get("void")]
    return [_entry_of(visit, test, logbook.rulebook) for test in tests]


def _entry_of(visit: dict[str, Any], test: dict[str, Any], rulebook: dict[str, Any]) -> Entry:
    [judged] = [one for one in assess(visit, rulebook)["tests"] if one["id"] == test["id"]]
    inputs, values = inputs_of(visit, test, rulebook), {}
    for name in rulebook["bands"]["history"]["spread"]:
        if name in judged["derived"]:
            values[name] = {part: judged["derived"][name][part] for part in ("value", "u")}
        elif name in inputs.values:
            values[name] = {"value": inputs.values[name], "u": inputs.u[name]}
    entry = {"at": test["at"], "visit": visit["id"], "test": test["id"], "values": values}
    entry["refrigerant"] = (visit.get("vehicle") or {}).get("refrigerant")
    entry |= {name: (test.get("conditions") or {}).get(name) for name in ("blower", "air", "rear")}
    return {name: held for name, held in entry.items() if held is not None}


def _work_times(visit: dict[str, Any], rulebook: dict[str, Any]) -> list[str]:
    """When refrigerant was worked on in a visit; the visit's start where that was not noted."""
    terms = rulebook["comparison"]
    work = [item for item in visit.get("work") or [] if item["code"] in terms["refrigerant_work"]]
    moves = [item for item in visit.get("refrigerant_moves") or [] if item["kind"] in terms["refrigerant_moves"]]
    return [] if visit.get("void") else [str(item.get("at") or visit["started_at"]) for item in (*work, *moves)]


def _instant(time: str) -> float:
    return datetime.fromisoformat(time).timestamp()


def _when(entry: Entry) -> float:
    return _instant(entry["at"])
