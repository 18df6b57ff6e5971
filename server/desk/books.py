"""The desk's page of the books: refrigerant by mass and its cylinders over a period, or a day; and both as files.

Nothing is added up here: the tasks do the work, the template shows it.
"""

from __future__ import annotations

import shlex
from datetime import date
from typing import cast

from flask import Response, request

from server.desk.login import page, pages
from server.http.problems import RequestFault, status_of
from server.http.sync_routes import logbook
from server.tasks import books as made
from server.tasks import sheet_tasks
from sync.errors import LaybyError
from sync.language.reader import language, words_of
from sync.records.locks import SHEETS
from sync.sheet.ledger import Totals
from sync.sheet.ledger_choice import LedgerChoice
from sync.sheet.ledger_files import Table

TYPED = ("book", "from", "to", "day", "refrigerant", "vehicle", "cylinder", "technician")
# What narrows a book down; a day only by technician.
NARROWING = {"ledger": ("refrigerant", "vehicle", "cylinder", "technician"), "day": ("technician",)}
TEXT_MOST = 200
# A page with more rows than these is slow on a phone; the files have them all.
ROWS_MOST = 500
TABLES: dict[str, tuple[Table, ...]] = {
    "day": ("visits", "technicians", "cylinders", "transfers"),
    "ledger": ("moves", "sums", "cylinders", "transfers", "technicians"),
}


@pages.get("/desk/books")
def books() -> Response:
    """GET /desk/books?book=&from=&to=&day=&refrigerant=&vehicle=&cylinder=&technician=: a book as tables with its sums.
    """
    typed, rulebook = _typed(), logbook().rulebook
    try:
        book = _book(typed)
        found = made.accounts(logbook(), book, language())
    except LaybyError as error:
        fault = words_of(rulebook).error(error)
        return page("books", status_of(error), typed=typed, fault=fault, shown=None, choices=_choices(None, typed))
    if found.about and len(found.about) == 1:
        # Typed in another spelling, it is still the same option of the list.
        typed["technician"] = found.about[0].chosen_by
    data = made.page_of(found, book)
    tables = [block for block in data["blocks"] if block["kind"] == "table"]
    return page(
        "books", typed=typed, shown=data, tables=tables, most=ROWS_MOST, command=_command(book, typed),
        csv=_tables(book, found), choices=_choices(found, typed), typed_link=_link(typed),
    )  # fmt: skip


@pages.get("/desk/books.pdf")
def books_pdf() -> Response:
    """GET /desk/books.pdf?...: the same as a page to print."""
    book = _book(_typed())
    with SHEETS.together(logbook().store.claim):
        content = made.pdf_of(made.page_of(made.accounts(logbook(), book, language()), book))
    return _file(content, "application/pdf", f"{book.name}.pdf")


@pages.get("/desk/books.csv")
def books_csv() -> Response:
    """GET /desk/books.csv?table=&...: one of its tables for a spreadsheet."""
    book, table = _book(_typed()), request.args.get("table", "")
    found = made.accounts(logbook(), book, language())
    if table not in _tables(book, found):
        raise RequestFault("no_such_page", path=request.path[:200])
    content = made.csv_of(found, cast(Table, table))
    return _file(content, "text/csv; charset=utf-8", f"{book.name}-{table}.csv")


def _file(content: bytes, kind: str, name: str) -> Response:
    response = Response(content, content_type=kind)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _tables(book: made.Book, found: Totals) -> tuple[str, ...]:
    """The tables that a book has as files."""
    has = {"cylinders": not book.choice.splits_cylinders,
           "transfers": found.is_shared and not book.choice.splits_cylinders,
           "technicians": found.is_of_several and book.choice.is_all_moves}
    return tuple(name for name in TABLES[book.kind] if has.get(name, True))


def _typed() -> dict[str, str]:
    """What was typed, by the names of the fields; this month where nothing was."""
    today = date.today()  # noqa: DTZ011 -- a day by this machine's clock, as on all pages
    typed = {name: request.args.get(name, "").strip()[:TEXT_MOST] for name in TYPED}
    typed["book"] = "day" if typed["book"] == "day" else "ledger"
    for name, day in (("from", today.replace(day=1)), ("to", today), ("day", today)):
        typed[name] = typed[name] or day.isoformat()
    return typed


def _book(typed: dict[str, str]) -> made.Book:
    if typed["book"] == "day":
        day = sheet_tasks.day_of(typed["day"])
        return made.Book("day", day, day, LedgerChoice(technician=typed["technician"]))
    choice = LedgerChoice(typed["refrigerant"], typed["vehicle"], typed["cylinder"], typed["technician"])
    return made.Book("ledger", sheet_tasks.day_of(typed["from"]), sheet_tasks.day_of(typed["to"]), choice)


def _choices(found: Totals | None, typed: dict[str, str]) -> dict[str, list[tuple[str, str]]]:
    """What can be chosen: what the period has, and what is chosen now [(code, words) each, by field].

    A technician only if the period names several, or if one is chosen now.
    """
    words, moves = words_of(logbook().rulebook), found.all_moves if found else []
    codes = sorted({*(row["move"].get("refrigerant") or "unknown" for row in moves), typed["refrigerant"]} - {""})
    names = sorted({*(row["move"].get("cylinder") or "" for row in moves), typed["cylinder"]} - {""})
    vans = found.technicians if found and len(found.technicians) > 1 else []
    technicians = [(van.chosen_by, van.label) for van in vans]
    if typed["technician"] and typed["technician"] not in dict(technicians):
        technicians.append((typed["technician"], typed["technician"]))
    return {"refrigerant": [(code, words.term("refrigerant", code)) for code in codes],
            "cylinder": [(name, name) for name in names], "technician": technicians}


def _link(typed: dict[str, str]) -> dict[str, str]:
    """What a link to a file of the same book carries."""
    names = ("book", *(("day",) if typed["book"] == "day" else ("from", "to")), *NARROWING[typed["book"]])
    return {name: typed[name] for name in names if typed[name]}


def _command(book: made.Book, typed: dict[str, str]) -> str:
    """The command that writes the same book [text]."""
    chosen = [part for name in NARROWING[book.kind] if typed[name] for part in (f"--{name}", typed[name])]
    if book.kind == "day":
        return shlex.join(["layby", "day", "--day", book.first.isoformat(), *chosen])
    return shlex.join(["layby", "ledger", "--from", book.first.isoformat(), "--to", book.last.isoformat(), *chosen])
