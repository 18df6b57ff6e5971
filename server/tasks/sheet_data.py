"""A visit as the data of its sheet, from the records of a folder, for the evening and the mail queue.

Nothing is printed or kept here.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from typing import cast

from server.tasks import logo
from server.tasks.evening_rows import reason_of, row_of, unfiled
from server.tasks.sheet_cache import SheetCache, ground_of, photos_here, same_vehicle
from sync.isolation import Odd, apart, each_apart
from sync.kernel import fold
from sync.kernel.assessment import assess
from sync.kernel.books import KindsBook, Rulebook
from sync.kernel.judgement import Assessment
from sync.kernel.operation import Op
from sync.kernel.reason import Reason
from sync.kernel.visit import Technician, Visit
from sync.physics.diagnosis import diagnose
from sync.records.logbook import Logbook, UnknownVisit
from sync.sheet.jobsheet import jobsheet, revision
from sync.sheet.sheet_data import EarlierTest, JudgedVisit, RecordsBeside, Sheet, SheetSettings
from sync.sheet.technician import EARLIER_MOST, summary
from sync.wire import op_line

# What is the business's own, whoever worked for it.
OF_BUSINESS = ("business", "phone", "email")


@dataclass
class SheetInputs:

    """A visit and the data from which its sheet is printed, with its revision; or the reason why there is none.

    `notes` are codes of what a person should see to, `judged` is the visit's judgement.
    """

    visit: Visit
    data: Sheet | None = None
    revision: str = ""
    reason: Reason | None = None
    notes: list[str] = field(default_factory=list)
    judged: Assessment | None = None


_SHEETS: SheetCache[SheetInputs] = SheetCache()


def inputs_of(logbook: Logbook, visit_id: str, rulebook: Rulebook, settings: SheetSettings) -> SheetInputs:
    """The sheet of a visit as plain data.

    Args:
        logbook: the open logbook [Logbook]
        visit_id: the visit [UUIDv7]
        rulebook: the rulebook [Rulebook]
        settings: language, paper and who stands in for what the visit leaves out [SheetSettings]

    Returns:
        the inputs; their reason is set if the visit is void or can't be worked out, whatever it trips over
        [SheetInputs]

    Raises:
        UnknownVisit: nothing of it is filed.
    """
    if not op_line.is_id(visit_id):
        raise UnknownVisit(visit=visit_id)
    settings = logo.with_logo(settings, logbook.files)
    asked = (rulebook["hash"], edition(), settings)
    known = _SHEETS.get(logbook, visit_id, *asked)
    # A copy: the result of its printing is noted on it.
    if known is not None:
        return replace(known)
    return _anew(logbook, visit_id, rulebook, settings)


def _anew(logbook: Logbook, visit_id: str, rulebook: Rulebook, settings: SheetSettings) -> SheetInputs:
    last = logbook.store.last
    visit = apart(visit_id, lambda: _listable(logbook, visit_id, rulebook, settings), UnknownVisit)
    if isinstance(visit, Odd):
        return SheetInputs(outline_of(logbook, visit_id), reason=visit.reason)
    if visit.get("void"):
        return SheetInputs(visit, reason=reason_of("void"))
    heads = logbook.visit_heads(visit_id)
    if heads is not None and (heads["missing"] or not heads["opened"]):
        return SheetInputs(outline_of(logbook, visit_id), reason=reason_of("visit_incomplete"))

    def worked_out() -> SheetInputs:
        ground = ground_of(logbook, visit, rulebook["hash"], edition(), settings)
        # Anything filed from here on makes the ground older than the sheet, so the sheet is worked out once more.
        is_of_this_visit = logbook.store.last == last
        inputs = _worked_out(logbook, visit, rulebook, settings)
        if is_of_this_visit:
            _SHEETS.put(logbook, visit, ground, replace(inputs))
        return inputs

    inputs = apart(visit_id, worked_out)
    return SheetInputs(visit, reason=inputs.reason) if isinstance(inputs, Odd) else inputs


def _listable(logbook: Logbook, visit_id: str, rulebook: Rulebook, settings: SheetSettings) -> Visit:
    """A visit that the evening's list can show, under the business of the settings if it names none."""
    visit = with_business(logbook.visit(visit_id), settings.get("technician") or {})
    row_of(visit, None, None, rulebook)
    return visit


def with_business(visit: Visit, own: Technician) -> Visit:
    """A visit with what it doesn't say of its business taken from the settings; the records stay as they are.

    Args:
        visit: as it was recorded [Visit]
        own: the business of the settings; name and certificate are taken only if the visit names nobody [Technician]

    Returns:
        the same visit if nothing is missing [Visit]
    """
    said = visit.get("technician") or {}
    taken = {name: value for name, value in own.items() if not said.get(name)
             and (name in OF_BUSINESS or not said.get("name"))}
    return cast(Visit, {**visit, "technician": {**said, **taken}}) if taken else visit


def _worked_out(logbook: Logbook, visit: Visit, rulebook: Rulebook, settings: SheetSettings) -> SheetInputs:
    beside = _beside(logbook, visit, rulebook)
    judged = diagnose(visit, rulebook, edition())
    data = jobsheet(visit, judged, rulebook, settings, beside)
    notes = ["note_waiting"] if _waits_for_its_item(logbook.ops(visit["id"]), rulebook["kinds"]) else []
    return SheetInputs(visit, data, revision(data), notes=notes, judged=judged)


def outline_of(logbook: Logbook, visit_id: str) -> Visit:
    """What identifies an odd visit, from the records beside it: as much of its shape as a list shows [Visit]."""
    heads = logbook.visit_heads(visit_id)
    summary = heads["summary"] if heads else {}
    texts = {name: value for name, value in summary.items() if isinstance(value, str)}
    return {
        **unfiled(visit_id), "started_at": texts.get("started_at", ""),
        "customer": {"name": texts["customer"]} if "customer" in texts else {},
        "vehicle": {"plate": texts.get("plate", ""), "vin": texts.get("vin", "")},
        "place": {"label": texts["place"]} if "place" in texts else {},
    }


def _waits_for_its_item(ops: list[Op], kinds: KindsBook) -> bool:
    """Whether something was set on a test or a line that was never added; until it is, the visit lacks it."""
    added: set[tuple[str, str]] = set()
    named: set[tuple[str, str]] = set()
    for op in ops:
        inner = fold.unwrapped(op, kinds)
        rule = kinds["kinds"][inner["kind"]]
        if rule["does"] in ("add", "set_item"):
            (added if rule["does"] == "add" else named).add((rule["list"], str(inner["body"][rule["key"]])))
    return bool(named - added)


def _beside(logbook: Logbook, visit: Visit, rulebook: Rulebook) -> RecordsBeside:
    """What the records hold about the visit."""
    photos = photos_here(logbook, visit)
    shown = as_shown(logbook.ops(visit["id"]), rulebook) if visit.get("verdict_shown") else None
    return {"photos": photos, "shown": shown, "earlier": _earlier(logbook, visit, rulebook)}


def _earlier(logbook: Logbook, visit: Visit, rulebook: Rulebook) -> list[EarlierTest]:
    """What the same vehicle showed on earlier visits, oldest first; matched by its id or its vehicle number."""
    before, _ = each_apart(sorted(same_vehicle(logbook, visit)), lambda each: _before(logbook, each, visit))
    ordered = sorted((each for each in before if each), key=_at)[-EARLIER_MOST:]
    by_id = {each["id"]: each for each in ordered}
    tests, _ = each_apart(by_id, lambda each: summary(by_id[each], assess(by_id[each], rulebook, edition())))
    return [test for test in tests if test]


def _before(logbook: Logbook, visit_id: str, visit: Visit) -> Visit | None:
    """An earlier visit; None if it is later or was declared void."""
    other = logbook.visit(visit_id)
    return other if not other.get("void") and _at(other) < _at(visit) else None


def _at(visit: Visit) -> datetime:
    return datetime.fromisoformat(visit["started_at"])


def as_shown(ops: list[Op], rulebook: Rulebook) -> JudgedVisit | None:
    """The visit as it was on the phone when its verdict was last shown, judged by today's rules.

    It includes what the same phone had written before, and what others had by their own clocks; the verdict's digest
    tells whether that is right.

    Args:
        ops: the visit's operations [Op each]
        rulebook: the rulebook [Rulebook]

    Returns:
        visit and judgement; None if no verdict was shown or the visit wasn't open by then [JudgedVisit]
    """
    shown = max((op for op in ops if op["kind"] == "verdict.shown"), key=lambda op: (op["at"], op["seq"]), default=None)
    if shown is None:
        return None
    before = [op for op in ops if _was_there(op, shown)]
    if not any(op["kind"] == "visit.open" for op in before):
        return None
    visit = fold.fold(before, rulebook["kinds"])
    return {"visit": visit, "assessment": assess(visit, rulebook, edition())}


def _was_there(op: Op, shown: Op) -> bool:
    return op["seq"] < shown["seq"] if op["device"] == shown["device"] else op["at"] <= shown["at"]


@cache
def edition() -> str:
    """The version of Layby that judges and prints [text]."""
    try:
        return version("layby")
    except PackageNotFoundError:
        return "dev"
