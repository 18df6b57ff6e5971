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
from sync.sheet.ledger_choice import LedgerChoice

TYPED = ("book", "from", "to", "day", "refrigerant", "vehicle", "cylinder")
TEXT_MOST = 80
# A page with more rows than these is slow on a phone; the files have them all.
ROWS_MOST = 500
DAY_TABLES, LEDGER_TABLES = ("visits", "cylinders"), ("moves", "sums", "cylinders")


@pages.get("/desk/books")
def books() -> Response:
    """GET /desk/books?book=&from=&to=&day=&refrigerant=&vehicle=&cylinder=: a book as tables with its sums."""
    typed, rulebook = _typed(), logbook().rulebook
    try:
        book = _book(typed)
        found = made.accounts(logbook(), book, language())
    except LaybyError as error:
        fault = words_of(rulebook).error(error)
        return page("books", status_of(error), typed=typed, fault=fault, shown=None, choices=_choices([], [], typed))
    data, moves = made.page_of(found, book), found.all_moves
    tables = [block for block in data["blocks"] if block["kind"] == "table"]
    refrigerants = [row["move"].get("refrigerant") or "unknown" for row in moves]
    cylinders = [row["move"].get("cylinder") or "" for row in moves]
    return page(
        "books", typed=typed, shown=data, tables=tables, most=ROWS_MOST, command=_command(book, typed),
        csv=_tables(book), choices=_choices(refrigerants, cylinders, typed),
        typed_link=_link(typed),
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
    if table not in _tables(book):
        raise RequestFault("no_such_page", path=request.path[:200])
    content = made.csv_of(made.accounts(logbook(), book, language()), cast(made.Table, table))
    return _file(content, "text/csv; charset=utf-8", f"{book.name}-{table}.csv")


def _file(content: bytes, kind: str, name: str) -> Response:
    response = Response(content, content_type=kind)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _tables(book: made.Book) -> tuple[str, ...]:
    """The tables that a book has as files."""
    tables = LEDGER_TABLES if book.kind == "ledger" else DAY_TABLES
    return tuple(name for name in tables if name != "cylinders" or not book.choice.splits_cylinders)


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
        return made.Book("day", day, day)
    choice = LedgerChoice(typed["refrigerant"], typed["vehicle"], typed["cylinder"])
    return made.Book("ledger", sheet_tasks.day_of(typed["from"]), sheet_tasks.day_of(typed["to"]), choice)


def _choices(refrigerants: list[str], cylinders: list[str], typed: dict[str, str]) -> dict[str, list[tuple[str, str]]]:
    """What can be chosen: what the period has, and what is chosen now [(code, words) each, by field]."""
    words = words_of(logbook().rulebook)
    codes = sorted({*refrigerants, typed["refrigerant"]} - {""})
    names = sorted({*cylinders, typed["cylinder"]} - {""})
    return {"refrigerant": [(code, words.term("refrigerant", code)) for code in codes],
            "cylinder": [(name, name) for name in names]}


def _link(typed: dict[str, str]) -> dict[str, str]:
    """What a link to a file of the same book carries."""
    names = ("book", "day") if typed["book"] == "day" else tuple(name for name in TYPED if name != "day")
    return {name: typed[name] for name in names if typed[name]}


def _command(book: made.Book, typed: dict[str, str]) -> str:
    """The command that writes the same book [text]."""
    if book.kind == "day":
        return shlex.join(["layby", "day", "--day", book.first.isoformat()])
    names = [name for name in ("refrigerant", "vehicle", "cylinder") if typed[name]]
    chosen = [part for name in names for part in (f"--{name}", typed[name])]
    return shlex.join(["layby", "ledger", "--from", book.first.isoformat(), "--to", book.last.isoformat(), *chosen])
