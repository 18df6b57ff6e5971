"""The books: the day page and the ledger of refrigerant, made from what is filed, as data and as files.

It adds nothing up and words nothing; it collects the visits, has the page printed, and writes the files.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import date, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Literal

from reports import spreadsheet
from reports.print_pool import Press, Unprintable
from server import settings as folder_settings
from sync.disk.safe_files import make_folder, write_whole
from sync.errors import LaybyError
from sync.isolation import each_apart
from sync.kernel.visit import Visit
from sync.records.logbook import Logbook
from sync.sheet.ledger import Totals
from sync.sheet.ledger_choice import LedgerChoice
from sync.sheet.ledger_files import Table, rows_of
from sync.sheet.sheet_data import Sheet

FOLDER = "books"
# Ten years with as many leap days as they can have: longer than any authority asks for (common practice, no source),
# and read within seconds.
DAYS_MOST = 3653

# Of a word that a ledger was chosen by, in the name of its file; systems take 255 bytes.
NAME_MOST = 40


class NoPage(LaybyError):
    """A page of the books couldn't be printed; `why` gives the reason."""

    code = "no_page"


class PeriodTooLong(LaybyError):
    """A ledger of more than ten years; `first` and `last` are its days."""

    code = "period_too_long"


class PeriodReversed(LaybyError):
    """A period whose first day comes after its last."""

    code = "period_reversed"


@dataclass(frozen=True)
class Book:
    """Which book: the page of a `day`, or the `ledger` of a period; and what was chosen of it."""

    kind: Literal["day", "ledger"]
    first: date
    last: date
    choice: LedgerChoice = field(default_factory=LedgerChoice)

    @property
    def name(self) -> str:
        """The name of its file, without its ending [name]."""
        choice = self.choice
        # The small word keeps a technician called like a cylinder, or like a day, from naming another book's file.
        of = ("of", _in_name(choice.technician)) if choice.technician else ()
        if self.kind == "day":
            return "-".join(("day", self.first.isoformat(), *of))
        parts = (_in_name(part) for part in (choice.refrigerant, choice.vehicle, choice.cylinder))
        return "-".join(("ledger", self.first.isoformat(), self.last.isoformat(), *(part for part in parts if part),
                         *of))


def _in_name(chosen: str) -> str:
    """What was chosen as part of a file's name; letters that can't stand there are told apart by a hash of it all."""
    plain = re.sub(r"[^A-Za-z0-9]+", "-", chosen).strip("-")[:NAME_MOST]
    lacks = any(sign.isalnum() and not sign.isascii() for sign in chosen)
    return "-".join(filter(None, (plain, sha256(chosen.encode()).hexdigest()[:8] if lacks else "")))


def day_page(logbook: Logbook, day: date, technician: str = "") -> list[str]:
    """Write a day's page, its visits and its cylinders.

    Args:
        logbook: the open logbook [Logbook]
        day: the local day [date]
        technician: whose alone, by id or name; "" for all [text]

    Returns:
        the files: PDF, CSV of the visits, CSV of the cylinders [paths]

    Raises:
        NoPage: it can't be printed.
        BadSettings: the folder's settings can't be used.
    """
    book = Book("day", day, day, LedgerChoice(technician=technician.strip()))
    books = accounts(logbook, book)
    return [_put(logbook.folder, f"{book.name}.pdf", pdf_of(page_of(books, book))),
            _put(logbook.folder, f"{book.name}-visits.csv", csv_of(books, "visits")),
            _put(logbook.folder, f"{book.name}-cylinders.csv", csv_of(books, "cylinders"))]


def ledger(logbook: Logbook, first: date, last: date, choice: LedgerChoice | None = None) -> list[str]:
    """Write the ledger of refrigerant of a period.

    Args:
        logbook: the open logbook [Logbook]
        first: its first local day [date]
        last: its last local day, not before the first [date]
        choice: what is chosen of it, None for all [LedgerChoice or None]

    Returns:
        the files: PDF and CSV [paths]

    Raises:
        PeriodTooLong: it is longer than ten years.
        NoPage: it can't be printed.
        BadSettings: the folder's settings can't be used.
    """
    book = Book("ledger", first, last, choice or LedgerChoice())
    books = accounts(logbook, book)
    return [_put(logbook.folder, f"{book.name}.pdf", pdf_of(page_of(books, book))),
            _put(logbook.folder, f"{book.name}.csv", csv_of(books, "moves"))]


def accounts(logbook: Logbook, book: Book, language: str | None = None) -> Totals:
    """The visits of a book's period, with what is chosen of them.

    Args:
        logbook: the open logbook [Logbook]
        book: which one [Book]
        language: in which language; that of the sheets if None [tag or None]

    Returns:
        from which its page and its tables are made [Totals]

    Raises:
        PeriodTooLong, PeriodReversed: there is no such ledger.
        BadSettings: the folder's settings can't be used.
    """
    first, last = book.first, book.last
    if first > last:
        raise PeriodReversed(first=first.isoformat(), last=last.isoformat())
    if (last - first).days >= DAYS_MOST:
        raise PeriodTooLong(first=first.isoformat(), last=last.isoformat())
    days = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    sheet = folder_settings.load(logbook.files)["sheet"]
    if language is not None:
        sheet = {**sheet, "language": language}

    def fit(visit_id: str) -> Visit:
        """A visit that fits on a page; one that trips over something here would stop the page for all."""
        visit = logbook.visit(visit_id)
        alone = Totals([visit], (first, last), logbook.rulebook, sheet)
        alone.day_page(), alone.ledger_page()
        csv_of(alone, "visits"), csv_of(alone, "cylinders"), csv_of(alone, "moves")
        return visit

    visits, odd = each_apart((visit_id for day in days for visit_id in logbook.visits_on(day)), fit)
    return Totals(visits, (first, last), logbook.rulebook, sheet, odd).chosen(book.choice)


def page_of(books: Totals, book: Book) -> Sheet:
    """A book's page as data for printing [Sheet]."""
    return books.day_page() if book.kind == "day" else books.ledger_page()


def pdf_of(page: Sheet) -> bytes:
    """A book's page as PDF [bytes].

    Raises:
        NoPage: it can't be printed.
    """
    with Press() as press:
        try:
            return press.sheet(page)
        except Unprintable as reason:
            raise NoPage(why=f"{reason.code}: {reason.detail}") from reason


def csv_of(books: Totals, table: Table) -> bytes:
    """One table of a book as CSV [bytes]."""
    return spreadsheet.table(*rows_of(books, table))


def _put(folder: Path, name: str, content: bytes) -> str:
    make_folder(folder / FOLDER)
    write_whole(folder / FOLDER / name, content)
    return str(folder / FOLDER / name)
