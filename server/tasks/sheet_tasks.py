"""The tasks for sheets, letters and books: what the evening asks of an open logbook.

Nothing here knows HTTP or the terminal, and what is slow to load is loaded by the task that needs it.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial
from typing import Any, cast

from sync.errors import LaybyError
from sync.kernel.visit import Visit
from sync.records.logbook import Logbook, UnknownVisit

Given = dict[str, Any]


class NoSuchDay(LaybyError):
    """A day that is not written as YYYY-MM-DD."""

    code = "no_such_day"


def _day(given: Given) -> date:
    text = given.get("day")
    if text is None:
        # The technician's evening is a day of this machine's clock.
        return date.today()  # noqa: DTZ011
    try:
        return date.fromisoformat(str(text))
    except ValueError as error:
        raise NoSuchDay(day=str(text)) from error


def _sheetbook(logbook: Logbook) -> Any:
    """The folder's sheets, a damaged page of them made again first."""
    from sync.records import sheet_repair
    from sync.records.sheet_records import SheetRecords

    sheet_repair.mend(logbook.folder, logbook.ops)
    return SheetRecords(logbook.folder)


def _evening(logbook: Logbook, given: Given) -> Any:
    from server.tasks import evening

    return evening.make_sheets(logbook, _sheetbook(logbook), _day(given), logbook.rulebook)


def _reminders(logbook: Logbook, given: Given) -> Any:
    from server.tasks.reminders import reminders

    return reminders(logbook, _sheetbook(logbook), _day(given), logbook.rulebook)


def _send_test(logbook: Logbook, _: Given) -> Any:
    from server.tasks.mail_test import send_test

    return send_test(logbook.folder, logbook.rulebook)


def _sheet(logbook: Logbook, given: Given) -> Any:
    from server.tasks import evening

    sheet_records = _sheetbook(logbook)
    evening.newest_sheet(logbook, str(given["visit"]))
    record = sheet_records.newest(str(given["visit"]))
    return None if record is None else str(sheet_records.pdf(record))


def _approve(logbook: Logbook, given: Given) -> Any:
    from server.tasks import evening

    sheet_records = _sheetbook(logbook)
    visits = sheet_records.unapproved() if given.get("all") else [str(visit) for visit in given.get("visits") or []]
    return evening.approve(logbook, sheet_records, visits, logbook.rulebook)


def _send(logbook: Logbook, given: Given) -> Any:
    from server.tasks import evening

    return evening.send(logbook, _sheetbook(logbook), logbook.rulebook)


def _look(logbook: Logbook, given: Given) -> Any:
    from server.tasks import evening
    from sync.records.sheet_records import SheetRecords

    return evening.look(logbook, SheetRecords(logbook.folder), _day(given), logbook.rulebook)


def _post(logbook: Logbook, given: Given) -> Any:
    from server.tasks.evening_rows import row_of
    from server.tasks.sheet_data import outline_of
    from sync.isolation import Odd, apart
    from sync.records.sheet_records import SheetRecords

    sheet_records = SheetRecords(logbook.folder)
    underway = [sheet_records.record(visit, revision) for visit, revision in sheet_records.underway()]
    rows = []

    def shown(record: dict[str, Any]) -> Any:
        try:
            visit = logbook.visit(record["visit"])
        except UnknownVisit:
            visit = cast(Visit, {"id": record["visit"]})
        return row_of(visit, record, None, logbook.rulebook)

    for record in [*underway, *sheet_records.failed()]:
        # Where its operations are gone from this folder, or make no visit, the record stays for a person to see.
        row = apart(record["visit"], partial(shown, record))
        visit = outline_of(logbook, record["visit"])
        rows.append(row_of(visit, record, row.reason, logbook.rulebook) if isinstance(row, Odd) else row)
    return rows


def _day_page(logbook: Logbook, given: Given) -> Any:
    from server.tasks import books

    return books.day_page(logbook, _day(given))


def _ledger(logbook: Logbook, given: Given) -> Any:
    from server.tasks import books

    first, last = _day({"day": given.get("first")}), _day({"day": given.get("last")})
    if first > last:
        raise NoSuchDay(day=f"{first.isoformat()} to {last.isoformat()}")
    return books.ledger(logbook, first, last)


TASKS: dict[str, Callable[[Logbook, Given], Any]] = {
    "evening": _evening,
    "sheet": _sheet,
    "approve": _approve,
    "send": _send,
    "send_test": _send_test,
    "reminders": _reminders,
    "day": _day_page,
    "ledger": _ledger,
    "look": _look,
    "post": _post,
}
# Those that write sheets, letters or books of visits: a visit must not be erased in their middle.
WRITING = ("evening", "sheet", "approve", "send", "send_test", "day", "ledger")
