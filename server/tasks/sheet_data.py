"""Drafts: a visit as the data of its sheet, from the records of a folder, as the evening and the post both need it.

Nothing is printed or kept here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from sync.errors import LaybyError
from sync.kernel import fold
from sync.kernel.assessment import assess
from sync.kernel.visit import Visit
from sync.physics.diagnosis import diagnose
from sync.records.logbook import Logbook
from sync.records.notifications import Reason
from sync.records.photos import PhotoStore
from sync.records.search import squeezed
from sync.sheet.jobsheet import jobsheet, revision
from sync.sheet.technician import EARLIER_MOST, summary


@dataclass
class Draft:
    """A visit on its way to a sheet: `data` and `revision`, or `reason` ({code, values}) why there is none."""

    visit: Visit
    data: dict[str, Any] | None = None
    revision: str = ""
    reason: Reason | None = None


def draft_of(logbook: Logbook, visit_id: str, rulebook: dict[str, Any], chosen: dict[str, Any]) -> Draft:
    """The sheet of a visit as plain data.

    Args:
        logbook: the open logbook [Logbook]
        visit_id: the visit [UUIDv7]
        rulebook: the rulebook [books by name]
        chosen: `language` and `paper` of the settings [mapping]

    Returns:
        the draft; its reason is set where the visit is void or cannot be worked out [Draft]

    Raises:
        UnknownVisit: nothing of it is filed.
    """
    visit: Any = logbook.visit(visit_id)
    if visit.get("void"):
        return Draft(visit, reason={"code": "void", "values": {}})
    try:
        beside = _beside(logbook, visit, rulebook)
        data = jobsheet(visit, diagnose(visit, rulebook, edition()), rulebook, chosen, beside)
    except (LaybyError, ArithmeticError, LookupError, TypeError, ValueError) as error:
        # One visit that cannot be worked out must not keep the others from their sheets.
        return Draft(visit, reason={"code": "sheet_data", "values": {"why": f"{type(error).__name__}: {error}"}})
    return Draft(visit, data, revision(data))


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
    before: list[Any] = [logbook.visit(each) for each in found - {visit["id"]}]
    before = [each for each in before if not each.get("void") and _at(each) < _at(visit)]
    told = [summary(each, assess(each, rulebook, edition())) for each in sorted(before, key=_at)[-EARLIER_MOST:]]
    return [each for each in told if each]


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
