"""The books as tables for a spreadsheet: headings in plain words, figures as numbers.

Sums come from `totals` and `van_totals`; the same visits as pages are in `ledger`.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

from sync.kernel.vehicle import Vehicle
from sync.sheet import totals, van_totals
from sync.sheet.ledger import Totals, done_by
from sync.sheet.totals import CylinderTotals

Cell = str | float | Decimal | None
Cells = list[Cell]
Rows = tuple[list[str], list[Cells]]
Table = Literal["visits", "technicians", "cylinders", "transfers", "moves", "sums"]


def rows_of(books: Totals, table: Table) -> Rows:
    """One table of a book.

    Args:
        books: the visits, with what is chosen of them [Totals]
        table: which one [name]

    Returns:
        its headings and its rows [headings, rows]

    Raises:
        NoAmount: a price isn't a number.
    """
    tables = {"visits": _visits, "technicians": _technicians, "cylinders": _cylinders, "transfers": _transfers,
              "moves": _moves, "sums": _sums}
    return tables[table](books)


def _visits(books: Totals) -> Rows:
    heads = ["visit", "started_at", "ended_at", "customer", "place", "make", "model", "plate", "vin", "outcome",
             "distance_km", "currency", "net", "tax", "total", "paid", "paid_at", "technician"]
    rows: list[Cells] = []
    for visit in books.visits:
        vehicle, bill = visit.get("vehicle") or {}, totals.bill_of(visit, books.minor_digits)
        figures: Cells = [bill["currency"], bill["net"], bill["tax"], bill["total"], bill["paid"]] if bill else (
            [None] * 5)
        rows.append([visit["id"], visit["started_at"], visit.get("ended_at"),
                     (visit.get("customer") or {}).get("name"), (visit.get("place") or {}).get("label"),
                     *_marks(vehicle), visit.get("outcome"),
                     visit.get("distance_km"), *figures, (visit.get("paid") or {}).get("at"),
                     books.vans.of(visit).label])
    return heads, rows


def _technicians(books: Totals) -> Rows:
    """A row for each technician and currency; visits and distance stand in a technician's first one."""
    heads = ["technician", "visits", "distance_km", "currency", "net", "tax", "total", "unpaid"]
    rows: list[Cells] = []
    for own in van_totals.of_vans(books.visits, books.vans, books.minor_digits):
        money: list[Cells] = [[row["currency"], row["net"], row["tax"], row["total"], row["unpaid"]]
                              for row in own["money"]] or [[None] * 5]
        rows += [[own["van"].label, *((None, None) if number else (own["visits"], own["distance_km"])), *sums]
                 for number, sums in enumerate(money)]
    return heads, rows


def _cylinders(books: Totals) -> Rows:
    """Weighed and by the book; among several technicians a row for each cylinder and technician."""
    heads = ["cylinder", "first_g", "last_g", "weighed_g", "book_g", "difference_g", "technician"]
    if books.is_shared:
        return heads, [[*_figures(row), row["van"].label] for row in books.van_cylinders()]
    one = books.technicians[0].label if books.technicians else ""
    return heads, [[*_figures(row), one] for row in totals.cylinders(books.moves)]


def _figures(row: CylinderTotals) -> Cells:
    return [row["cylinder"], row["first_g"], row["last_g"], row["weighed_g"], row["book_g"], row["difference_g"]]


def _transfers(books: Totals) -> Rows:
    heads = ["cylinder", "from", "to", "last_g", "last_at", "first_g", "first_at", "difference_g"]
    return heads, [[row["cylinder"], row["giver"].label, row["taker"].label, row["last_g"], row["last_at"],
                    row["first_g"], row["first_at"], row["difference_g"]] for row in books.van_transfers()]


def _sums(books: Totals) -> Rows:
    heads = ["refrigerant", "recovered_g", "charged_g", "moves_not_weighed"]
    return heads, [[row["refrigerant"], row["recovered_g"], row["charged_g"], row["unweighed"]]
                   for row in totals.refrigerants(books.moves)]


def _moves(books: Totals) -> Rows:
    heads = ["at", "visit", "make", "model", "plate", "vin", "move", "refrigerant", "grams", "quality", "cylinder",
             "cylinder_before_g", "cylinder_after_g", "by", "certificate_no", "technician"]
    rows: list[Cells] = []
    for row in books.moves:
        move, visit = row["move"], row["visit"]
        rows.append([row["at"], visit["id"], *_marks(visit.get("vehicle") or {}), move["kind"], move.get("refrigerant"),
                     move.get("grams"), move.get("quality"), move.get("cylinder"), move.get("cylinder_before_g"),
                     move.get("cylinder_after_g"), done_by(row), (visit.get("technician") or {}).get("certificate_no"),
                     books.vans.of(visit).label])
    return heads, rows


def _marks(vehicle: Vehicle) -> Cells:
    return [vehicle.get("make"), vehicle.get("model"), vehicle.get("plate"), vehicle.get("vin")]
