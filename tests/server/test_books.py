"""The day page and the ledger end to end: from filed visits to a printed page and a file that opens.

Real journal, real press, the `layby` command; read back with pypdf and the standard library's CSV reader.
"""

from __future__ import annotations

import copy
import csv
import io
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from server.tasks.books import day_page, ledger
from sync.records.logbook import Logbook
from tests.reports.test_sheet import roles, text_of
from tests.server.test_evening import DAY, Desk
from tests.sheet.test_totals import CYLINDER
from tests.support import children
from tests.support.ops import line_of
from tests.support.service import LAYBY
from tests.support.sheet_visits import DECLINED, PAIR, operations

Rulebook = dict[str, Any]


@pytest.fixture
def desk(folder: Path, rulebook: Rulebook) -> Iterator[Desk]:
    """Three visits filed: one paid, one with refrigerant moved, one declined by a customer with a hostile name."""
    hostile = {**copy.deepcopy(DECLINED), "customer": {"id": "c3", "name": "=cmd|' /C calc'!A0"}, "distance_km": 12.5}
    with Logbook(folder, rulebook) as logbook:
        made = Desk(logbook, rulebook)
        for visit in (PAIR, CYLINDER, hostile):
            made.file(operations(visit, made.phone))
        yield made


def read(path: str) -> list[dict[str, str]]:
    """A CSV's rows by their headings."""
    return list(csv.DictReader(io.StringIO(Path(path).read_bytes().decode("utf-8-sig"), newline="")))


def test_the_day_stands_on_one_page(desk: Desk) -> None:
    """Visits, distance, money, cylinders; tagged like a sheet."""
    pdf, _, _ = day_page(desk.logbook, DAY)
    reader = PdfReader(pdf)
    text = text_of(reader)
    for part in ("Day page", "14 July 2026", "3 visits, 12.5 km driven.", "Noor Halloran, Wren Lane 4",
                 "EUR 200.00 40.00 240.00", "declined", "B7", "Total", "Page 1 of 1"):
        assert part in text, part
    assert reader.metadata.title == "Day page, 14 July 2026"  # type: ignore[union-attr]
    assert [role for role, _ in roles(reader)].count("/Table") == 3


def test_the_days_visits_open_in_a_spreadsheet(desk: Desk) -> None:
    """One row per visit, money as numbers, and a customer's name that isn't a formula."""
    _, visits, cylinders = day_page(desk.logbook, DAY)
    first, third, second = read(visits)
    assert (first["vin"], first["total"], first["paid"]) == ("1G4AH59H45G118341", "120.00", "card")
    assert second["visit"] == CYLINDER["id"]
    assert (third["customer"], third["distance_km"], third["total"]) == ("'=cmd|' /C calc'!A0", "12.5", "")
    weighed = {row["cylinder"]: row for row in read(cylinders)}
    assert (float(weighed["B7"]["weighed_g"]), float(weighed["B7"]["difference_g"])) == (-538.0, 12.0)


def test_the_ledger_holds_every_mass_of_its_period(desk: Desk) -> None:
    """Days before and after have none; each entry names the vehicle, the cylinder and who did it."""
    pdf, table = ledger(desk.logbook, date(2026, 7, 1), date(2026, 7, 31))
    rows = read(table)
    assert [(row["move"], row["grams"], row["cylinder"]) for row in rows][2:] == [
        ("recovered", "410", "R1"), ("charged", "550", "B7")]
    assert {row["certificate_no"] for row in rows} == {"AC-0173"}
    text = text_of(PdfReader(pdf))
    for part in ("Refrigerant ledger", "1 July 2026 to 31 July 2026", "4 entries of refrigerant by mass.",
                 "R-134a 410 g 550 g", "1 without a mass", "I. Varga"):
        assert part in text, part


def test_a_period_without_refrigerant_says_so(desk: Desk) -> None:
    """An empty ledger is a page too."""
    pdf, table = ledger(desk.logbook, date(2026, 8, 1), date(2026, 8, 2))
    assert "No refrigerant was recovered or charged." in text_of(PdfReader(pdf))
    assert read(table) == []


def test_a_void_visit_is_counted_and_left_out(desk: Desk) -> None:
    """Neither its money nor its refrigerant is in the books."""
    desk.file(line_of(desk.phone.op(CYLINDER["id"], "visit.void", {"reason": "entered twice"})))
    pdf, visits, _ = day_page(desk.logbook, DAY)
    text = text_of(PdfReader(pdf))
    assert "2 visits" in text
    assert "1 visit was declared void and is left out." in text
    assert len(read(visits)) == 2


def test_the_command_says_where_the_books_lie(folder: Path, rulebook: Rulebook) -> None:
    """`layby day` and `layby ledger` on a folder; a period that ends before it begins is named."""
    with Logbook(folder, rulebook) as logbook:
        made = Desk(logbook, rulebook)
        made.file(operations(CYLINDER, made.phone))
    command = [LAYBY, "--folder", folder]
    day = children.run([*command, "day", "--day", "2026-07-14"], check=True)
    assert [Path(line).name for line in day.stdout.splitlines()] == [
        "day-2026-07-14.pdf", "day-2026-07-14-visits.csv", "day-2026-07-14-cylinders.csv"]
    period = ["ledger", "--from", "2026-07-01", "--to", "2026-07-31"]
    book = children.run([*command, *period], check=True)
    assert all(Path(line).is_file() for line in book.stdout.splitlines())
    wrong = children.run([*command, "ledger", "--from", "2026-07-31", "--to", "2026-07-01"])
    assert wrong.returncode == 2
    assert "2026-07-31" in wrong.stderr
    assert "Traceback" not in wrong.stderr
