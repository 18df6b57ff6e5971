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
from sync.sheet.ledger_choice import LedgerChoice
from tests.reports.test_sheet import roles, text_of
from tests.server.test_evening import DAY, Desk
from tests.sheet.test_totals import CYLINDER
from tests.support import children
from tests.support.book_kinds import SECOND, TWO
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


@pytest.fixture
def firm(folder: Path, rulebook: Rulebook) -> Iterator[Desk]:
    """Five visits of two technicians filed, who share two cylinders."""
    with Logbook(folder, rulebook) as logbook:
        made = Desk(logbook, rulebook)
        for visit in TWO:
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
    assert list(first)[-1] == "technician"
    assert {row["technician"] for row in (first, second, third, *read(cylinders))} == {"I. Varga"}
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


# Several technicians: figures added up by hand from TWO ---------------------------------------------------------------


def test_a_day_of_two_technicians_names_both(firm: Desk) -> None:
    """The business alone heads the page; each has a row with visits, distance and money."""
    pdf, visits, cylinders = day_page(firm.logbook, DAY)
    text = text_of(PdfReader(pdf))
    for part in ("5 visits, 53.9 km driven.", "I. Varga 3 22.5 km 200.00 EUR 40.00 EUR 240.00 EUR 0.00 EUR",
                 "Ekström 2 31.4 km 1,145.50 EUR 229.10 EUR 1,374.60 EUR 1,374.60 EUR",
                 "EUR 1,345.50 269.10 1,614.60 240.00 by card 1,374.60"):
        assert part in text, part
    assert "AC-0173" not in text
    assert [row["technician"] for row in read(visits)] == [
        SECOND["name"], "I. Varga", "I. Varga", "I. Varga", SECOND["name"]]
    weighed = {(row["cylinder"], row["technician"]): row["weighed_g"] for row in read(cylinders)}
    assert weighed == {("B7", "I. Varga"): "-538", ("B7", SECOND["name"]): "", ("R1", "I. Varga"): "405",
                       ("R1", SECOND["name"]): "312", ("", "I. Varga"): ""}


@pytest.mark.parametrize("technician", ["SUNNIVA  blackwood-ekström", SECOND["id"]])
def test_a_day_may_be_about_one_technician(firm: Desk, technician: str) -> None:
    """By name or id, in files of their own; the heading names them, and nobody else's visit is there."""
    pdf, visits, _ = day_page(firm.logbook, DAY, technician)
    assert Path(pdf).name.startswith("day-2026-07-14-of-")
    text = text_of(PdfReader(pdf))
    for part in ("Alder Coast Mobile Cooling", "Sunniva Blackwood-Ekström · AC-0188", "2 visits, 31.4 km driven.",
                 "Only technician Sunniva Blackwood-Ekström."):
        assert part in text, part
    assert "Halloran" not in text
    assert [row["customer"] for row in read(visits)] == ["Basil Thornquist-Amoretti", "Ode Farrow"]


def test_names_in_letters_that_files_lack_have_files_of_their_own(firm: Desk) -> None:
    """Neither takes the place of the other's, nor of the page about all."""
    names = [Path(day_page(firm.logbook, DAY, technician)[0]).name for technician in ("", "Иван", "Пётр", "visits")]
    assert len(set(names)) == 4
    assert all(name.isascii() for name in names)


def test_the_ledger_of_two_technicians(firm: Desk) -> None:
    """Each entry with its van, also where somebody else's name stands at the move; sums of each; transfers."""
    pdf, table = ledger(firm.logbook, date(2026, 7, 1), date(2026, 7, 31))
    rows = read(table)
    assert list(rows[0])[-1] == "technician"
    assert ("M. Roe", SECOND["name"]) in [(row["by"], row["technician"]) for row in rows]
    recovered = {row["technician"]: float(row["grams"]) for row in rows if row["move"] == "recovered"}
    assert recovered == {"I. Varga": 410.0, SECOND["name"]: 310.0}
    text = " ".join(" ".join(page.extract_text().split()) for page in PdfReader(pdf).pages).replace("\u00a0", " ")
    for part in ("M. Roe, for Sunniva Blackwood- Ekström", "R-134a 720 g 1,330 g", "I. Varga R-134a 410 g 550 g",
                 "Ekström R-134a 310 g 780 g", "Cylinders that changed hands", "−18 g", "−12 g"):
        assert part in text, part
    assert "120.00 EUR" not in text
    chosen = ledger(firm.logbook, date(2026, 7, 1), date(2026, 7, 31), LedgerChoice("R134a", technician="i. varga"))
    assert Path(chosen[0]).name == "ledger-2026-07-01-2026-07-31-R134a-of-i-varga.pdf"
    assert [row["grams"] for row in read(chosen[1])] == ["410", "550"]
    assert "hands" not in text_of(PdfReader(chosen[0]))


def test_the_commands_about_one_technician(firm: Desk, folder: Path) -> None:
    """`layby day` and `layby ledger` with a name in another spelling; a name that nobody has gives an empty book."""
    command = [LAYBY, "--folder", folder]
    firm.logbook.close()
    day = children.run([*command, "day", "--day", "2026-07-14", "--technician", "I.VARGA"], check=True)
    pdf, visits, _ = day.stdout.splitlines()
    assert Path(pdf).name == "day-2026-07-14-of-I-VARGA.pdf"
    assert [row["technician"] for row in read(visits)] == ["I. Varga"] * 3
    period = ["ledger", "--from", "2026-07-01", "--to", "2026-07-31", "--technician"]
    _, table = children.run([*command, *period, "i. varga"], check=True).stdout.splitlines()
    assert [row["grams"] for row in read(table)] == ["410", "550", "20"]
    _, table = children.run([*command, *period, "Varga"], check=True).stdout.splitlines()
    assert read(table) == []
