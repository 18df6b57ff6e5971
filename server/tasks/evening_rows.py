"""The rows of the evening's list: how each visit stands and what a person should see to.

Words come from the rulebook; nothing is changed here.
"""

from __future__ import annotations

import re
from typing import Any

from sync.errors import LaybyError, sentence
from sync.isolation import Reason
from sync.kernel.visit import Visit
from sync.records.sheet_record import SheetRecord, state_of

Row = dict[str, Any]


class _Told(LaybyError):
    """A reason that was kept, on its way to its sentence."""

    def __init__(self, code: str, **values: Any) -> None:
        self.code = code
        super().__init__(**values)


def row_of(
    visit: Visit, record: SheetRecord | None, reason: Reason | None, rulebook: dict[str, Any]
) -> Row:
    """One visit's line in the evening's list.

    Args:
        visit: the visit [design shape]
        record: its newest sheet's record, None when it has none [mapping]
        reason: {code, values} of what just went wrong, None when nothing did [mapping]
        rulebook: the rulebook with its `wording` [books by name]

    Returns:
        {visit, started_at, place, customer, vehicle, outcome, state, revision, number, file, reason, to, notes}; reason
        is {code, values, text} or None, notes are {code, text} [mapping]
    """
    why = reason or (record["states"][-1].get("reason") if record else None)
    customer, vehicle = visit.get("customer") or {}, visit.get("vehicle") or {}
    named = [str(vehicle[key]) for key in ("year", "make", "model", "plate") if vehicle.get(key)]
    return {
        "visit": visit["id"], "started_at": visit.get("started_at"), "place": (visit.get("place") or {}).get("label"),
        "customer": customer.get("name"), "vehicle": " ".join(named) or None, "outcome": visit.get("outcome"),
        "state": state_of(record) if record else "failed" if reason else None,
        "revision": record["revision"] if record else None, "number": record["number"] if record else None,
        "file": record["file"] if record else None, "reason": told(why, rulebook) if why else None,
        "to": customer.get("email"), "notes": [told({"code": code, "values": {}}, rulebook) for code in _notes(visit)],
    }


def with_twins(rows: list[Row], visits: list[Visit], rulebook: dict[str, Any]) -> list[Row]:
    """The day's rows, each that may have been entered twice marked with the time of the other.

    The same vehicle by its id, its number or its plate; whether it is one visit or two is for a person to say.

    Args:
        rows: as from `row_of` [list]
        visits: the day's visits in the same order [design shapes]
        rulebook: the rulebook with its `wording` [books by name]

    Returns:
        the rows with their notes [list]
    """
    found = []
    for row, visit in zip(rows, visits, strict=True):
        others = [other for other in visits if other is not visit and not other.get("void") and not visit.get("void")
                  and _marks(other) & _marks(visit)]
        notes = [told({"code": "note_duplicate", "values": {"time": str(other.get("started_at"))[11:16]}}, rulebook)
                 for other in others]
        found.append({**row, "notes": [*row["notes"], *notes]})
    return found


def _marks(visit: Visit) -> set[tuple[str, str]]:
    vehicle = visit.get("vehicle") or {}
    signs = {key: re.sub(r"[^0-9a-z]", "", str(vehicle.get(key) or "").casefold()) for key in ("id", "vin", "plate")}
    return {(key, sign) for key, sign in signs.items() if sign}


def told(reason: Reason, rulebook: dict[str, Any]) -> dict[str, Any]:
    """A reason with its sentence.

    Args:
        reason: {code, values} [mapping]
        rulebook: the rulebook with its `wording` [books by name]

    Returns:
        {code, values, text} [mapping]
    """
    said = sentence(_Told(reason["code"], **reason["values"]), rulebook.get("wording", {}))
    return {"code": reason["code"], "values": reason["values"], "text": said}


def _notes(visit: Visit) -> list[str]:
    """What a person should see to before this sheet goes [codes]."""
    found = {
        "note_no_address": not (visit.get("customer") or {}).get("email"),
        "note_no_test": not visit.get("tests"),
        "note_no_after": _lacks_after(visit),
        "note_not_ended": not visit.get("ended_at"),
        "note_no_outcome": not visit.get("outcome"),
        "note_return": visit.get("outcome") == "return_needed",
        "note_unpaid": bool(visit.get("charges")) and not (visit.get("paid") or {}).get("method"),
    }
    return [code for code, applies in found.items() if applies]


def _lacks_after(visit: Visit) -> bool:
    """Work that a test before it asks to be measured again, and no such test."""
    roles = {test.get("role") for test in visit.get("tests") or []}
    worked = any(item["code"] != "tested_only" for item in visit.get("work") or [])
    return worked and "before" in roles and "after" not in roles
