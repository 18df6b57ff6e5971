"""The tasks for sheets, letters and books: what the evening asks of an open logbook.

Nothing here knows HTTP or the terminal, and the task that needs something slow loads it.
"""

from __future__ import annotations

from datetime import date

from server.tasks.messages import EveningRow, Remark, TaskArguments
from server.tasks.task import Task
from sync.disk.safe_files import make_folder, write_whole
from sync.errors import LaybyError
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.people import People
from sync.records.sheet_records import SheetRecords
from sync.sheet.ledger_choice import LedgerChoice
from sync.wire import op_line


class NoSuchDay(LaybyError):
    """A day that isn't written as YYYY-MM-DD."""

    code = "no_such_day"


def day_of(text: str | None) -> date:
    """A day as it was typed, YYYY-MM-DD; today where nothing was [date].

    Raises:
        NoSuchDay: it isn't one.
    """
    if text is None:
        # The technician's evening is a day by this machine's clock.
        return date.today()  # noqa: DTZ011
    try:
        return date.fromisoformat(str(text))
    except ValueError as error:
        raise NoSuchDay(day=str(text)) from error


def _evening(logbook: Logbook, arguments: TaskArguments) -> list[EveningRow]:
    from server.tasks import evening

    return evening.make_sheets(logbook, SheetRecords(logbook), day_of(arguments.get("day")), logbook.rulebook,
                               _person(logbook, arguments))


def _reminders(logbook: Logbook, arguments: TaskArguments) -> list[Remark]:
    from server.tasks.reminders import reminders

    return reminders(logbook, SheetRecords(logbook), day_of(arguments.get("day")), logbook.rulebook)


def _send_test(logbook: Logbook, _: TaskArguments) -> Remark:
    from server.tasks.mail_test import try_out

    return try_out(logbook.files, logbook.rulebook)


def _sheet(logbook: Logbook, arguments: TaskArguments) -> str | None:
    from server.tasks import evening

    sheet_records = SheetRecords(logbook)
    evening.newest_sheet(logbook, str(arguments["visit"]))
    record = sheet_records.newest(str(arguments["visit"]))
    if record is None:
        return None
    if not logbook.store.is_shared:
        return sheet_records.place(record)
    # Nobody opens a file in a database, so there is a copy on this machine.
    path = logbook.folder / "sheets" / str(record["file"])
    make_folder(path.parent)
    write_whole(path, sheet_records.pdf(record))
    return str(path)


def _approve(logbook: Logbook, arguments: TaskArguments) -> list[EveningRow]:
    from server.tasks import evening

    sheet_records = SheetRecords(logbook)
    visits = sheet_records.unapproved() if arguments.get("all") else [
        str(visit) for visit in arguments.get("visits") or []]
    for visit in visits:
        if not op_line.is_id(visit):
            raise UnknownVisit(visit=visit)
    return evening.approve(logbook, sheet_records, visits, logbook.rulebook, complete=bool(arguments.get("complete")))


def _send(logbook: Logbook, _: TaskArguments) -> list[EveningRow]:
    from server.tasks import evening

    return evening.send(logbook, SheetRecords(logbook), logbook.rulebook)


def _look(logbook: Logbook, arguments: TaskArguments) -> list[EveningRow]:
    from server.tasks import evening

    return evening.look(logbook, SheetRecords(logbook), day_of(arguments.get("day")), logbook.rulebook,
                        _person(logbook, arguments))


def _person(logbook: Logbook, arguments: TaskArguments) -> str:
    """Whose visits are asked for, by their id; "" for all."""
    name = arguments.get("person") or ""
    return People(logbook.files).named(name)["id"] if name else ""


def _day_page(logbook: Logbook, arguments: TaskArguments) -> list[str]:
    from server.tasks import books

    return books.day_page(logbook, day_of(arguments.get("day")), str(arguments.get("technician") or ""))


def _ledger(logbook: Logbook, arguments: TaskArguments) -> list[str]:
    from server.tasks import books

    names = ("refrigerant", "vehicle", "cylinder", "technician")
    choice = LedgerChoice(*(str(arguments.get(name) or "").strip() for name in names))
    return books.ledger(logbook, day_of(arguments.get("first")), day_of(arguments.get("last")), choice)


TASKS: dict[str, Task] = {
    "evening": _evening,
    "sheet": _sheet,
    "approve": _approve,
    "send": _send,
    "send_test": _send_test,
    "reminders": _reminders,
    "day": _day_page,
    "ledger": _ledger,
    "look": _look,
}
# Tasks that write sheets, letters or books of visits: a visit must not be erased in the middle of them.
WRITING = ("evening", "sheet", "approve", "send", "send_test", "day", "ledger")
