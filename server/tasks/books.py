"""The books: the day page and the ledger of refrigerant, made from what is filed and saved as files.

It adds nothing up and words nothing; it collects the visits, has the page printed, and writes the files.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from reports import spreadsheet
from reports.print_pool import Press, Unprintable
from server import settings as folder_settings
from sync.disk.safe_files import make_folder, write_whole
from sync.errors import LaybyError
from sync.isolation import each_apart
from sync.kernel.visit import Visit
from sync.records.logbook import Logbook
from sync.sheet.ledger import Totals
from sync.sheet.sheet_data import Sheet

FOLDER = "books"
# Ten years with as many leap days as they can have: longer than any authority asks for (common practice, no source),
# and read within seconds.
DAYS_MOST = 3653


class NoPage(LaybyError):
    """A page of the books couldn't be printed; `why` gives the reason."""

    code = "no_page"


class PeriodTooLong(LaybyError):
    """A ledger of more than ten years; `first` and `last` are its days."""

    code = "period_too_long"


def day_page(logbook: Logbook, day: date) -> list[str]:
    """Write a day's page, its visits and its cylinders.

    Args:
        logbook: the open logbook [Logbook]
        day: the local day [date]

    Returns:
        the files: PDF, CSV of the visits, CSV of the cylinders [paths]

    Raises:
        NoPage: it can't be printed.
        BadSettings: the folder's settings can't be used.
    """
    books = _accounts(logbook, day, day)
    name = f"day-{day.isoformat()}"
    return [_pdf(logbook.folder, name, books.day_page()),
            _put(logbook.folder, f"{name}-visits.csv", spreadsheet.table(*books.day_rows())),
            _put(logbook.folder, f"{name}-cylinders.csv", spreadsheet.table(*books.cylinder_rows()))]


def ledger(logbook: Logbook, first: date, last: date) -> list[str]:
    """Write the ledger of refrigerant of a period.

    Args:
        logbook: the open logbook [Logbook]
        first: its first local day [date]
        last: its last local day, not before the first [date]

    Returns:
        the files: PDF and CSV [paths]

    Raises:
        PeriodTooLong: it is longer than ten years.
        NoPage: it can't be printed.
        BadSettings: the folder's settings can't be used.
    """
    if (last - first).days >= DAYS_MOST:
        raise PeriodTooLong(first=first.isoformat(), last=last.isoformat())
    books = _accounts(logbook, first, last)
    name = f"ledger-{first.isoformat()}-{last.isoformat()}"
    return [_pdf(logbook.folder, name, books.ledger_page()),
            _put(logbook.folder, f"{name}.csv", spreadsheet.table(*books.ledger_rows()))]


def _accounts(logbook: Logbook, first: date, last: date) -> Totals:
    days = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    sheet = folder_settings.load(logbook.folder)["sheet"]

    def fit(visit_id: str) -> Visit:
        """A visit that fits on a page; one that trips over something here would stop the page for all."""
        visit = logbook.visit(visit_id)
        alone = Totals([visit], (first, last), logbook.rulebook, sheet)
        alone.day_page(), alone.ledger_page()
        for heads, rows in (alone.day_rows(), alone.cylinder_rows(), alone.ledger_rows()):
            spreadsheet.table(heads, rows)
        return visit

    visits, odd = each_apart((visit_id for day in days for visit_id in logbook.visits_on(day)), fit)
    return Totals(visits, (first, last), logbook.rulebook, sheet, odd)


def _pdf(folder: Path, name: str, page: Sheet) -> str:
    with Press() as press:
        try:
            return _put(folder, f"{name}.pdf", press.sheet(page))
        except Unprintable as reason:
            raise NoPage(why=f"{reason.code}: {reason.detail}") from reason


def _put(folder: Path, name: str, content: bytes) -> str:
    make_folder(folder / FOLDER)
    write_whole(folder / FOLDER / name, content)
    return str(folder / FOLDER / name)
