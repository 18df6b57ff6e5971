"""The evening: the day's sheets made, approved and sent, one visit never in another's way.

It judges nothing and draws nothing; it calls the records, the judgement, the press and the mail in their order.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from datetime import date, datetime
from functools import partial
from typing import Any

from reports.print_pool import Unprintable, print_sheets
from server import settings as folder_settings
from server.tasks.evening_rows import row_of, told, with_twins
from server.tasks.mail_queue import send
from server.tasks.sheet_data import Draft, draft_of
from sync.errors import LaybyError
from sync.isolation import Odd, apart
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.photos import PhotoStore
from sync.records.sheet_record import SheetRecord, StateEntry, at_of, state_of
from sync.records.sheet_records import SheetRecords
from sync.sheet.jobsheet import marked
from sync.work.desk_operations import write

__all__ = ["approve", "look", "make_sheets", "newest_sheet", "send"]

# What was found unprinted or unapproved must still be so when it is noted, else a sheet that was approved meanwhile
# would be called made again, and one that was sent meanwhile be approved again.
_PRINTING = threading.Lock()
_APPROVING = threading.Lock()

Row = dict[str, Any]
Rulebook = dict[str, Any]


class NoSheet(LaybyError):
    """A sheet could not be made; `visit` and `why` say which and for what reason."""

    code = "no_sheet"


def make_sheets(logbook: Logbook, sheet_records: SheetRecords, day: date, rulebook: Rulebook) -> list[Row]:
    """Make the sheets of a day that are missing or outdated, and say how each visit stands.

    A sheet that cannot be made holds up no other; its row says why.

    Args:
        logbook: the open logbook [Logbook]
        sheet_records: the sheets of the same folder [SheetRecords]
        day: the local day of the visits [date]
        rulebook: the rulebook [books by name]

    Returns:
        {visit, started_at, place, customer, vehicle, outcome, state, revision, number, file, reason, to, notes} for
        each visit, in the order of the day [list]

    Raises:
        BadSettings: the folder's settings cannot be used.
    """
    chosen = folder_settings.load(logbook.folder)["sheet"]
    drafts = [draft_of(logbook, visit_id, rulebook, chosen) for visit_id in logbook.visits_on(day)]
    _print_missing(drafts, sheet_records, rulebook)
    rows = [_row(draft, _record(draft, sheet_records), draft.reason, rulebook) for draft in drafts]
    return with_twins(rows, [draft.visit for draft in drafts], rulebook)


def look(logbook: Logbook, sheet_records: SheetRecords, day: date, rulebook: Rulebook) -> list[Row]:
    """How the visits of a day stand; nothing is printed.

    Args:
        logbook: the open logbook [Logbook]
        sheet_records: the sheets of the same folder [SheetRecords]
        day: the local day of the visits [date]
        rulebook: the rulebook [books by name]

    Returns:
        rows as from `make_sheets`; where the visit changed since its sheet was made, the reason says so [list]

    Raises:
        BadSettings: the folder's settings cannot be used.
    """
    chosen = folder_settings.load(logbook.folder)["sheet"]
    rows = []
    for visit_id in logbook.visits_on(day):
        draft = draft_of(logbook, visit_id, rulebook, chosen)
        record = _record(draft, sheet_records)
        changed = record is None and sheet_records.newest(visit_id) is not None
        reason = draft.reason or ({"code": "sheet_outdated", "values": {}} if changed else None)
        row = _row(draft, record, reason, rulebook)
        rows.append({**row, "state": None} if changed and not draft.reason else row)
    return rows


def newest_sheet(logbook: Logbook, visit_id: str) -> bytes:
    """The PDF of a visit as it stands now, printed when there is none yet.

    Args:
        logbook: the open logbook [Logbook]
        visit_id: the visit [UUIDv7]

    Returns:
        the PDF [bytes]

    Raises:
        UnknownVisit: nothing of it is filed.
        NoSheet: it cannot be made; the values say why.
    """
    sheet_records, rulebook = SheetRecords(logbook.folder), logbook.rulebook
    draft = draft_of(logbook, visit_id, rulebook, folder_settings.load(logbook.folder)["sheet"])
    _print_missing([draft], sheet_records, rulebook)
    record = _record(draft, sheet_records)
    if draft.reason or not record or not record["file"]:
        raise NoSheet(visit=visit_id, why=row_of(draft.visit, record, draft.reason, rulebook)["reason"]["text"])
    return sheet_records.pdf(record).read_bytes()


def approve(logbook: Logbook, sheet_records: SheetRecords, visits: Sequence[str], rulebook: Rulebook) -> list[Row]:
    """A person has looked at these sheets and says they may go.

    The approval is filed in the journal before the sheet's state changes. A sheet whose visit changed since it was made
    is not approved; one whose mail failed is approved again and tried anew.

    Args:
        logbook: the open logbook [Logbook]
        sheet_records: the sheets of the same folder [SheetRecords]
        visits: the visits [UUIDv7 each]
        rulebook: the rulebook [books by name]

    Returns:
        a row for each visit as from `make_sheets`, its reason set where it was not approved [list]
    """
    chosen = folder_settings.load(logbook.folder)["sheet"]
    draft_for = partial(draft_of, logbook, rulebook=rulebook, chosen=chosen)
    drafts = [_asked_for(visit_id, draft_for, alone=len(visits) == 1) for visit_id in visits]
    with _APPROVING:
        rows = [apart(draft.visit["id"], partial(_approve_one, logbook, sheet_records, draft, rulebook))
                for draft in drafts]
    return [_row(draft, _record(draft, sheet_records), row.reason, rulebook) if isinstance(row, Odd) else row
            for draft, row in zip(drafts, rows, strict=True)]


def _asked_for(visit_id: str, draft_for: Callable[[str], Draft], alone: bool) -> Draft:
    """The draft of a visit that was named; one of many that is not on file says so and holds up none."""
    try:
        return draft_for(visit_id)
    except UnknownVisit as error:
        if alone:
            raise
        return Draft({"id": visit_id}, reason={"code": error.code, "values": error.values})


def _approve_one(logbook: Logbook, sheet_records: SheetRecords, draft: Draft, rulebook: Rulebook) -> Row:
    record = sheet_records.newest(draft.visit["id"])
    reason = draft.reason
    if reason is None and record is None:
        reason = {"code": "not_made", "values": {}}
    elif reason is None and record is not None and record["revision"] != draft.revision:
        reason = {"code": "sheet_changed", "values": {}}
    elif reason is None and record is not None and state_of(record) in ("made", "failed"):
        at_ms, offset = _now()
        write(logbook, draft.visit["id"], "sheet.approve", {"revision": draft.revision}, (at_ms, offset))
        state: StateEntry = {"state": "approved", "at": at_ms, "reason": None}
        record = sheet_records.note(draft.visit["id"], draft.revision, state)
    return _row(draft, record, reason, rulebook)


def _row(draft: Draft, record: dict[str, Any] | None, reason: dict[str, Any] | None, rulebook: Rulebook) -> Row:
    row = row_of(draft.visit, record, reason, rulebook)
    return {**row, "notes": [*row["notes"], *(told({"code": code, "values": {}}, rulebook) for code in draft.notes)]}


def _print_missing(drafts: Sequence[Draft], sheet_records: SheetRecords, rulebook: Rulebook) -> None:
    """Print what has no file yet; each outcome is kept as it comes, so that a crash loses one sheet at most."""
    with _PRINTING:
        missing = [draft for draft in drafts if draft.data and not _printed(draft, sheet_records)]
        if missing:
            _print(missing, sheet_records, rulebook)


def _print(drafts: Sequence[Draft], sheet_records: SheetRecords, rulebook: Rulebook) -> None:
    missing, sheets = [], []
    for draft in drafts:
        sheet = apart(draft.visit["id"], partial(_marked, draft, sheet_records, rulebook))
        if isinstance(sheet, Odd):
            draft.reason = sheet.reason
        else:
            missing.append(draft)
            sheets.append(sheet)

    def keep(place: int, outcome: bytes | Unprintable) -> None:
        draft = missing[place]
        if isinstance(outcome, bytes):
            sheet_records.keep(draft.visit["id"], draft.revision, outcome, _now()[0])
            return
        draft.reason = {"code": outcome.code, "values": {"why": outcome.detail}}
        state: StateEntry = {"state": "failed", "at": _now()[0], "reason": draft.reason}
        sheet_records.note(draft.visit["id"], draft.revision, state)

    photos = PhotoStore(sheet_records.folder)
    print_sheets(sheets, keep, photos.bytes_of)


def _printed(draft: Draft, sheet_records: SheetRecords) -> bool:
    record = _record(draft, sheet_records)
    return bool(record and record["file"] and sheet_records.pdf(record).exists())


def _marked(draft: Draft, sheet_records: SheetRecords, rulebook: Rulebook) -> dict[str, Any]:
    """The sheet's data with its revision mark, naming the one the customer already holds."""
    visit_id, number = draft.visit["id"], sheet_records.number_for(draft.visit["id"], draft.revision)
    sent = [record for record in sheet_records.records(visit_id)
            if at_of(record, "sent") is not None and record["revision"] != draft.revision]
    replaces = None
    if sent:
        at = datetime.fromtimestamp((at_of(sent[-1], "sent") or 0) / 1000).astimezone()
        replaces = {"number": sent[-1]["number"], "at": at.isoformat()}
    return marked(draft.data or {}, number, rulebook, replaces)


def _record(draft: Draft, sheet_records: SheetRecords) -> SheetRecord | None:
    mine = [record for record in sheet_records.records(draft.visit["id"]) if record["revision"] == draft.revision]
    return mine[0] if mine else None


def _now() -> tuple[int, int]:
    """The instant and this machine's offset from UTC [ms since 1970, minutes]."""
    offset = datetime.now().astimezone().utcoffset()
    return time.time_ns() // 1_000_000, int(offset.total_seconds() // 60) if offset else 0
