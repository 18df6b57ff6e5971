"""The evening: the day's sheets made, approved and sent; one visit never gets in another's way.

It judges nothing and draws nothing; it calls the records, the judgement, the press and the mail in order.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime
from functools import partial

from reports.print_pool import Unprintable, print_sheets
from server import settings as folder_settings
from server.tasks import logo
from server.tasks.evening_rows import reason_of, remark, row_of, unfiled, with_twins
from server.tasks.instant import now
from server.tasks.mail_queue import send
from server.tasks.messages import EveningRow
from server.tasks.sheet_data import SheetInputs, inputs_of
from server.tasks.visit_gist import NEEDED, gist_of, lacking
from sync.errors import LaybyError
from sync.isolation import Odd, apart
from sync.kernel.books import Rulebook
from sync.kernel.reason import Reason
from sync.records.locks import APPROVING, PRINTING
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.sheet_record import SheetRecord, StateEntry, at_of, is_held, state_of
from sync.records.sheet_records import SheetRecords
from sync.sheet.jobsheet import marked
from sync.sheet.sheet_data import Replaced, Sheet
from sync.work.desk_operations import write
from sync.work.technicians import Technicians

__all__ = ["approve", "look", "make_sheets", "newest_sheet", "send"]


class NoSheet(LaybyError):
    """A sheet couldn't be made; `visit` and `why` say which one and for what reason."""

    code = "no_sheet"


def make_sheets(
    logbook: Logbook, sheet_records: SheetRecords, day: date, rulebook: Rulebook, technician: str = ""
) -> list[EveningRow]:
    """Make the missing or outdated sheets of a day, and give the state of each visit.

    A sheet that can't be made holds up no other; its row says why.

    Args:
        logbook: the open logbook [Logbook]
        sheet_records: the sheets of the same folder [SheetRecords]
        day: the local day of the visits [date]
        rulebook: the rulebook [Rulebook]
        technician: whose visits only; "" for all [id]

    Returns:
        a row for each visit, in the order of the day [EveningRow each]

    Raises:
        BadSettings: the folder's settings can't be used.
    """
    settings = folder_settings.load(logbook.files)["sheet"]
    sheets = [inputs_of(logbook, visit_id, rulebook, settings) for visit_id in _visits(logbook, day, technician)]
    _print_missing(sheets, sheet_records, rulebook)
    rows = [_row(sheet, record_of(sheet, sheet_records), sheet.reason, rulebook) for sheet in sheets]
    return with_twins(rows, [sheet.visit for sheet in sheets], rulebook)


def look(
    logbook: Logbook, sheet_records: SheetRecords, day: date, rulebook: Rulebook, technician: str = ""
) -> list[EveningRow]:
    """The state of a day's visits; nothing is printed.

    Args:
        logbook: the open logbook [Logbook]
        sheet_records: the sheets of the same folder [SheetRecords]
        day: the local day of the visits [date]
        rulebook: the rulebook [Rulebook]
        technician: whose visits only; "" for all [id]

    Returns:
        rows as from `make_sheets`; if the visit changed since its sheet was made, the reason says so [list]

    Raises:
        BadSettings: the folder's settings can't be used.
    """
    settings = folder_settings.load(logbook.files)["sheet"]
    rows = []
    for visit_id in _visits(logbook, day, technician):
        rows.append(row_now(inputs_of(logbook, visit_id, rulebook, settings), sheet_records, rulebook))
    return rows


def _visits(logbook: Logbook, day: date, technician: str) -> list[str]:
    visits = logbook.visits_on(day)
    return Technicians(logbook).own(visits, technician) if technician else visits


def row_now(sheet: SheetInputs, sheet_records: SheetRecords, rulebook: Rulebook) -> EveningRow:
    """How one visit stands; nothing is printed [EveningRow]."""
    record = record_of(sheet, sheet_records)
    changed = record is None and sheet_records.newest(sheet.visit["id"]) is not None
    reason = sheet.reason or (reason_of("sheet_outdated") if changed else None)
    row = _row(sheet, record, reason, rulebook)
    return {**row, "state": None} if changed and not sheet.reason else row


def newest_sheet(logbook: Logbook, visit_id: str) -> bytes:
    """The PDF of a visit in its present state, printed if there is none yet.

    Args:
        logbook: the open logbook [Logbook]
        visit_id: the visit [UUIDv7]

    Returns:
        the PDF [bytes]

    Raises:
        UnknownVisit: nothing of it is filed.
        NoSheet: it can't be made; the values say why.
    """
    sheet_records, rulebook = SheetRecords(logbook), logbook.rulebook
    sheet = inputs_of(logbook, visit_id, rulebook, folder_settings.load(logbook.files)["sheet"])
    _print_missing([sheet], sheet_records, rulebook)
    record = record_of(sheet, sheet_records)
    if sheet.reason or not record or not record["file"]:
        reason = row_of(sheet.visit, record, sheet.reason, rulebook)["reason"]
        raise NoSheet(visit=visit_id, why=reason["text"] if reason else "")
    return sheet_records.pdf(record)


def approve(
    logbook: Logbook, sheet_records: SheetRecords, visits: Sequence[str], rulebook: Rulebook, complete: bool = False
) -> list[EveningRow]:
    """A person has looked at these sheets and says they may go out.

    The approval is filed in the journal before the sheet's state changes. If a visit changed since its sheet was made,
    the sheet isn't approved; one whose mail failed is approved again and tried again.

    Args:
        logbook: the open logbook [Logbook]
        sheet_records: the sheets of the same folder [SheetRecords]
        visits: the visits [UUIDv7 each]
        rulebook: the rulebook [Rulebook]
        complete: only those that lack nothing a letter needs [bool]

    Returns:
        a row for each visit as from `make_sheets`, with a reason if it wasn't approved [list]
    """
    settings = folder_settings.load(logbook.files)["sheet"]
    sheet_for = partial(inputs_of, logbook, rulebook=rulebook, settings=settings)
    sheets = [_asked_for(visit_id, sheet_for, alone=len(visits) == 1) for visit_id in visits]
    for sheet in sheets:
        lacks = lacking(sheet.visit) if complete and sheet.reason is None else []
        if lacks:
            sheet.reason = reason_of(NEEDED[lacks[0]])
    with logbook.claim(APPROVING):
        rows = [apart(sheet.visit["id"], partial(_approve_one, logbook, sheet_records, sheet, rulebook))
                for sheet in sheets]
    return [_row(sheet, record_of(sheet, sheet_records), row.reason, rulebook) if isinstance(row, Odd) else row
            for sheet, row in zip(sheets, rows, strict=True)]


def _asked_for(visit_id: str, sheet_for: Callable[[str], SheetInputs], alone: bool) -> SheetInputs:
    """The sheet of a named visit; one of many that isn't on file says so and holds up none."""
    try:
        return sheet_for(visit_id)
    except UnknownVisit as error:
        if alone:
            raise
        return SheetInputs(unfiled(visit_id), reason=reason_of(error.code, **error.values))


def _approve_one(logbook: Logbook, sheet_records: SheetRecords, sheet: SheetInputs, rulebook: Rulebook) -> EveningRow:
    # A claim may be lost; what is looked up here still holds when the approval is filed.
    with logbook.writing():
        record = sheet_records.newest(sheet.visit["id"])
        reason = sheet.reason
        if reason is None and record is None:
            reason = reason_of("not_made")
        elif reason is None and record is not None and record["revision"] != sheet.revision:
            reason = reason_of("sheet_changed")
        elif reason is None and record is not None and state_of(record) in ("made", "failed"):
            at_ms, offset = now()
            write(logbook, sheet.visit["id"], "sheet.approve", {"revision": sheet.revision}, (at_ms, offset))
            approval: StateEntry = {"state": "approved", "at": at_ms, "reason": None}
            record = sheet_records.note(sheet.visit["id"], sheet.revision, approval)
    return _row(sheet, record, reason, rulebook)


def _row(sheet: SheetInputs, record: SheetRecord | None, reason: Reason | None, rulebook: Rulebook) -> EveningRow:
    row = row_of(sheet.visit, record, reason, rulebook)
    gist = gist_of(sheet.visit, sheet.judged, rulebook)
    return {**row, "gist": gist, "notes": [*row["notes"], *(remark(reason_of(code), rulebook) for code in sheet.notes)]}


def _print_missing(sheets: Sequence[SheetInputs], sheet_records: SheetRecords, rulebook: Rulebook) -> None:
    """Print what has no file yet; each outcome is kept at once, so that a crash loses at most one sheet."""
    with sheet_records.logbook.claim(PRINTING):
        missing = [sheet for sheet in sheets if sheet.data and not _is_printed(sheet, sheet_records)]
        if missing:
            _print(missing, sheet_records, rulebook)


def _print(sheets: Sequence[SheetInputs], sheet_records: SheetRecords, rulebook: Rulebook) -> None:
    missing, pages = [], []
    for sheet in sheets:
        page = apart(sheet.visit["id"], partial(marked_sheet, sheet, sheet_records, rulebook))
        if isinstance(page, Odd):
            sheet.reason = page.reason
        elif page is not None:
            missing.append(sheet)
            pages.append(page)

    def keep(place: int, outcome: bytes | Unprintable) -> None:
        sheet = missing[place]
        if isinstance(outcome, bytes):
            with sheet_records.logbook.writing():
                # Another service may have printed it, and even sent it, if the claim was lost.
                if not _is_printed(sheet, sheet_records):
                    sheet_records.keep(sheet.visit["id"], sheet.revision, outcome, now()[0])
            return
        sheet.reason = reason_of(outcome.code, why=outcome.detail)
        failure: StateEntry = {"state": "failed", "at": now()[0], "reason": sheet.reason}
        sheet_records.note(sheet.visit["id"], sheet.revision, failure)

    print_sheets(pages, keep, logo.pictures_of(sheet_records.files))


def _is_printed(sheet: SheetInputs, sheet_records: SheetRecords) -> bool:
    record = record_of(sheet, sheet_records)
    return bool(record and record["file"] and sheet_records.is_kept(record))


def marked_sheet(sheet: SheetInputs, sheet_records: SheetRecords, rulebook: Rulebook) -> Sheet | None:
    """The sheet's data with its revision mark, naming the one the customer already holds; None if it has none."""
    if sheet.data is None:
        return None
    visit_id, number = sheet.visit["id"], sheet_records.number_for(sheet.visit["id"], sheet.revision)
    sent = [record for record in sheet_records.records(visit_id)
            if is_held(record) and record["revision"] != sheet.revision]
    replaces: Replaced | None = None
    if sent:
        at = datetime.fromtimestamp((at_of(sent[-1], "sent") or 0) / 1000).astimezone()
        replaces = {"number": sent[-1]["number"], "at": at.isoformat()}
    return marked(sheet.data, number, rulebook, replaces)


def record_of(sheet: SheetInputs, sheet_records: SheetRecords) -> SheetRecord | None:
    """The record of a sheet as it is now; None if nothing became of it yet [SheetRecord or None]."""
    return next((record for record in sheet_records.records(sheet.visit["id"])
                 if record["revision"] == sheet.revision), None)


