"""A visit as the data of its sheet, from the records of a folder, as the evening and the mail queue need it.

Nothing is printed or kept here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from typing import Any, cast

from server.tasks.evening_rows import reason_of
from server.tasks.filed import ops_of, visit_of
from server.tasks.messages import Reason
from sync.errors import LaybyError
from sync.kernel import fold
from sync.kernel.assessment import assess
from sync.kernel.books import Rulebook
from sync.kernel.judgement import Assessment
from sync.kernel.operation import Op
from sync.kernel.visit import Visit
from sync.physics.diagnosis import diagnose
from sync.records.logbook import Logbook
from sync.records.photos import PhotoStore
from sync.records.search import squeezed
from sync.sheet.jobsheet import jobsheet, revision
from sync.sheet.sheet_data import EarlierTest, JudgedVisit, RecordsBeside, Sheet, SheetSettings
from sync.sheet.technician import EARLIER_MOST, summary


@dataclass
class SheetInputs:
    """A visit and the data that its sheet is printed from, with their revision; or the reason why there are none."""

    visit: Visit
    data: Sheet | None = None
    revision: str = ""
    reason: Reason | None = None


def inputs_of(logbook: Logbook, visit_id: str, rulebook: Rulebook, settings: SheetSettings) -> SheetInputs:
    """The sheet of a visit as plain data.

    Args:
        logbook: the open logbook [Logbook]
        visit_id: the visit [UUIDv7]
        rulebook: the rulebook [Rulebook]
        settings: language and paper [SheetSettings]

    Returns:
        the inputs; their reason is set where the visit is void or cannot be worked out [SheetInputs]

    Raises:
        UnknownVisit: nothing of it is filed.
    """
    visit = visit_of(logbook, visit_id)
    if visit.get("void"):
        return SheetInputs(visit, reason=reason_of("void"))
    try:
        beside = _beside(logbook, visit, rulebook)
        data = jobsheet(visit, diagnose(visit, rulebook, edition()), rulebook, settings, beside)
    except (LaybyError, ArithmeticError, LookupError, TypeError, ValueError) as error:
        # One visit that cannot be worked out must not keep the others from their sheets.
        return SheetInputs(visit, reason=reason_of("sheet_data", why=f"{type(error).__name__}: {error}"))
    return SheetInputs(visit, data, revision(data))


def _beside(logbook: Logbook, visit: Visit, rulebook: Rulebook) -> RecordsBeside:
    """What the records hold beside the visit."""
    store = PhotoStore(logbook.folder)
    photos = [photo["sha256"] for photo in visit.get("photos") or [] if _is_here(store, photo["sha256"])]
    shown = as_shown(ops_of(logbook, visit["id"]), rulebook) if visit.get("verdict_shown") else None
    return {"photos": photos, "shown": shown, "earlier": _earlier(logbook, visit, rulebook)}


def _earlier(logbook: Logbook, visit: Visit, rulebook: Rulebook) -> list[EarlierTest]:
    """What the same vehicle showed on earlier visits, oldest first; the same by its id or its vehicle number."""
    vehicle = visit.get("vehicle") or {}
    same: set[str] = set(logbook.search.visits_of("vehicle", {vehicle["id"]})) if vehicle.get("id") else set()
    if vehicle.get("vin"):
        mark = squeezed(vehicle["vin"])
        rows = logbook.search.find(vehicle["vin"])["visits"]
        same |= {row["id"] for row in rows if row["vin"] and squeezed(row["vin"]) == mark}
    before = [visit_of(logbook, each) for each in same - {visit["id"]}]
    before = [each for each in before if not each.get("void") and _at(each) < _at(visit)]
    tests = [summary(each, _judged(each, rulebook)) for each in sorted(before, key=_at)[-EARLIER_MOST:]]
    return [test for test in tests if test]


def _judged(visit: Visit, rulebook: Rulebook) -> Assessment:
    """The judgement without the ideal cycle, which only a visit's own sheet shows."""
    # The kernel's function gives plain objects of exactly this shape, which its own tests hold.
    return cast(Assessment, assess(cast(dict[str, Any], visit), cast(dict[str, Any], rulebook), edition()))


def _at(visit: Visit) -> datetime:
    return datetime.fromisoformat(visit["started_at"])


def as_shown(ops: list[Op], rulebook: Rulebook) -> JudgedVisit | None:
    """The visit as it stood on the phone when its verdict was last shown, judged by today's rules.

    What the same phone had written before, and what others had by their own clocks; whether that is right, the digest
    of the verdict tells.

    Args:
        ops: the visit's operations [Op each]
        rulebook: the rulebook [Rulebook]

    Returns:
        visit and judgement, None where no verdict was shown or the visit was not opened by then [JudgedVisit]
    """
    shown = max((op for op in ops if op["kind"] == "verdict.shown"), key=lambda op: (op["at"], op["seq"]), default=None)
    if shown is None:
        return None
    before = [op for op in ops if _was_there(op, shown)]
    if not any(op["kind"] == "visit.open" for op in before):
        return None
    kinds = cast(dict[str, Any], rulebook["kinds"])
    # What was filed was of the shape of its kind, so it amounts to a visit.
    visit = cast(Visit, fold.fold(cast(list[dict[str, Any]], before), kinds))
    return {"visit": visit, "assessment": _judged(visit, rulebook)}


def _was_there(op: Op, shown: Op) -> bool:
    return op["seq"] < shown["seq"] if op["device"] == shown["device"] else op["at"] <= shown["at"]


def _is_here(store: PhotoStore, digest: str) -> bool:
    offset, length = store.offset(digest)
    return length is not None and offset == length


@cache
def edition() -> str:
    """The version of Layby that judges and prints [text]."""
    try:
        return version("layby")
    except PackageNotFoundError:
        return "dev"
