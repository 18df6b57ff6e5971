"""Drafts: a visit as the data of its sheet, from the records of a folder, as the evening and the post both need it.

Nothing is printed or kept here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from typing import Any, cast

from server.tasks.evening_rows import row_of
from sync.isolation import Odd, Reason, apart, each_apart
from sync.kernel import fold
from sync.kernel.assessment import assess
from sync.kernel.visit import Visit
from sync.physics.diagnosis import diagnose
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.photos import PhotoStore
from sync.records.search import squeezed
from sync.sheet.jobsheet import jobsheet, revision
from sync.sheet.technician import EARLIER_MOST, summary


@dataclass
class Draft:
    """A visit on its way to a sheet: `data` and `revision`, or `reason` ({code, values}) why there is none.

    `notes` are codes of what a person should see to.
    """

    visit: Visit
    data: dict[str, Any] | None = None
    revision: str = ""
    reason: Reason | None = None
    notes: list[str] = field(default_factory=list)


def draft_of(logbook: Logbook, visit_id: str, rulebook: dict[str, Any], chosen: dict[str, Any]) -> Draft:
    """The sheet of a visit as plain data.

    Args:
        logbook: the open logbook [Logbook]
        visit_id: the visit [UUIDv7]
        rulebook: the rulebook [books by name]
        chosen: `language` and `paper` of the settings [mapping]

    Returns:
        the draft; its reason is set where the visit is void or cannot be worked out, whatever it trips over [Draft]

    Raises:
        UnknownVisit: nothing of it is filed.
    """
    visit: Any = apart(visit_id, lambda: _listable(logbook, visit_id, rulebook), UnknownVisit)
    if isinstance(visit, Odd):
        return Draft(outline_of(logbook, visit_id), reason=visit.reason)
    if visit.get("void"):
        return Draft(visit, reason={"code": "void", "values": {}})

    def worked_out() -> Draft:
        beside = _beside(logbook, visit, rulebook)
        data = jobsheet(visit, diagnose(visit, rulebook, edition()), rulebook, chosen, beside)
        notes = ["note_waiting"] if _waits_for_its_item(logbook.ops(visit_id), rulebook["kinds"]) else []
        return Draft(visit, data, revision(data), notes=notes)

    made = apart(visit_id, worked_out)
    return Draft(visit, reason=made.reason) if isinstance(made, Odd) else made


def _listable(logbook: Logbook, visit_id: str, rulebook: dict[str, Any]) -> Visit:
    """A visit that the evening's list can show."""
    visit = logbook.visit(visit_id)
    row_of(visit, None, None, rulebook)
    return visit


def outline_of(logbook: Logbook, visit_id: str) -> Visit:
    """What an odd visit is known by, from the records beside it: as much of its shape as a list shows [mapping]."""
    heads = logbook.visit_heads(visit_id)
    known = heads["summary"] if heads else {}
    text = {name: value if isinstance(value, str) else None for name, value in known.items()}
    return cast(Visit, {
        "id": visit_id, "started_at": text.get("started_at"), "customer": {"name": text.get("customer")},
        "vehicle": {"plate": text.get("plate"), "vin": text.get("vin")}, "place": {"label": text.get("place")},
    })


def _waits_for_its_item(ops: list[dict[str, Any]], kinds: dict[str, Any]) -> bool:
    """Whether something was set of a test or a line that was never added; the visit is without it until it is."""
    added: set[tuple[str, str]] = set()
    named: set[tuple[str, str]] = set()
    for op in ops:
        inner = fold.unwrapped(op, kinds)
        rule = kinds["kinds"][inner["kind"]]
        if rule["does"] in ("add", "set_item"):
            (added if rule["does"] == "add" else named).add((rule["list"], str(inner["body"][rule["key"]])))
    return bool(named - added)


def _beside(logbook: Logbook, visit: dict[str, Any], rulebook: dict[str, Any]) -> dict[str, Any]:
    """What the records hold beside the visit."""
    store = PhotoStore(logbook.folder)
    photos = [photo["sha256"] for photo in visit.get("photos") or [] if _is_here(store, photo["sha256"])]
    ops: Any = logbook.ops(visit["id"]) if visit.get("verdict_shown") else None
    shown = as_shown(ops, rulebook) if ops is not None else None
    return {"photos": photos, "shown": shown, "earlier": _earlier(logbook, visit, rulebook)}


def _earlier(logbook: Logbook, visit: dict[str, Any], rulebook: dict[str, Any]) -> list[dict[str, Any]]:
    """What the same vehicle showed on earlier visits, oldest first; the same by its id or its vehicle number."""
    vehicle = visit.get("vehicle") or {}
    found = set(logbook.search.visits_of("vehicle", {vehicle["id"]})) if vehicle.get("id") else set()
    if vehicle.get("vin"):
        mark = squeezed(vehicle["vin"])
        rows = logbook.search.find(vehicle["vin"])["visits"]
        found |= {row["id"] for row in rows if row["vin"] and squeezed(row["vin"]) == mark}
    before, _ = each_apart(sorted(found - {visit["id"]}), lambda each: _before(logbook, each, visit))
    ordered = sorted((each for each in before if each), key=_at)[-EARLIER_MOST:]
    by_id = {each["id"]: each for each in ordered}
    told, _ = each_apart(by_id, lambda each: summary(by_id[each], assess(by_id[each], rulebook, edition())))
    return [each for each in told if each]


def _before(logbook: Logbook, visit_id: str, visit: dict[str, Any]) -> dict[str, Any] | None:
    """An earlier visit; None where it is later or was declared void."""
    found = logbook.visit(visit_id)
    return found if not found.get("void") and _at(found) < _at(visit) else None


def _at(visit: dict[str, Any]) -> datetime:
    return datetime.fromisoformat(visit["started_at"])


def as_shown(ops: list[dict[str, Any]], rulebook: dict[str, Any]) -> dict[str, Any] | None:
    """The visit as it stood on the phone when its verdict was last shown, judged by today's rules.

    What the same phone had written before, and what others had by their own clocks; whether that is right, the digest
    of the verdict tells.

    Args:
        ops: the visit's operations [JSON objects]
        rulebook: the rulebook [books by name]

    Returns:
        {visit, assessment}, None where no verdict was shown or the visit was not opened by then [mapping]
    """
    shown = max((op for op in ops if op["kind"] == "verdict.shown"), key=lambda op: (op["at"], op["seq"]), default=None)
    if shown is None:
        return None
    before = [op for op in ops if _was_there(op, shown)]
    if not any(op["kind"] == "visit.open" for op in before):
        return None
    visit = fold.fold(before, rulebook["kinds"])
    return {"visit": visit, "assessment": assess(visit, rulebook, edition())}


def _was_there(op: dict[str, Any], shown: dict[str, Any]) -> bool:
    if op["device"] == shown["device"]:
        return bool(op["seq"] < shown["seq"])
    return bool(op["at"] <= shown["at"])


def _is_here(store: PhotoStore, digest: str) -> bool:
    held, length = store.offset(digest)
    return length is not None and held == length


@cache
def edition() -> str:
    """The version of Layby that judges and prints [text]."""
    try:
        return version("layby")
    except PackageNotFoundError:
        return "dev"
