"""The desk's page of the books: chosen entries with their sums, and the same as CSV and PDF.

A real service, the real press, a real browser without scripts; files are read back with pypdf and the standard library.
"""

from __future__ import annotations

import csv
import http.client
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.server.test_login import layby
from tests.server.test_outbox_page import signed_in, whole
from tests.server.test_pages import press
from tests.server.test_visit_page import filed
from tests.support.book_kinds import SECOND, TWO
from tests.support.browser import borrowed
from tests.support.ops import Phone
from tests.support.service import Service
from tests.support.sheet_visits import operations
from tests.support.visitor import Visitor, running_desk

JULY = "from=2026-07-01&to=2026-07-31"
JUNE = "from=2026-06-01&to=2026-06-30"
HOSTILE = "=cmd|' /C calc'!A0"
# Plate, refrigerant, cylinder it went into, grams recovered, grams charged.
MOVED = (("FT 5510", "R134a", "B7", 310.0, 450.0), ("HMR 208", "R1234yf", HOSTILE, 200.0, 480.0),
         ("FT 5519", "R134a", "B7", 90.0, None))  # fmt: skip


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A real service with three visits in June whose refrigerant was moved, and five of two technicians in July."""
    with running_desk(tmp_path_factory.mktemp("desk")) as running:
        phone = Phone("7e57ab")
        for place, (plate, refrigerant, cylinder, recovered, charged) in enumerate(MOVED):
            visit = phone.new_id()
            moves = [phone.op(visit, "move.add", {"id": f"r{place}", "kind": "recovered", "refrigerant": refrigerant,
                                                  "grams": recovered, "cylinder": cylinder})]
            more = {} if charged is None else {"grams": charged}
            moves.append(phone.op(visit, "move.add", {"id": f"c{place}", "kind": "charged", "refrigerant": refrigerant,
                                                      "cylinder": "N2", **more}))
            vehicle = phone.op(visit, "visit.set", {"vehicle": {"plate": plate, "make": "Ostrel"}},
                               {"/vehicle/plate": None, "/vehicle/make": None})
            filed(running, phone.opening(visit), vehicle, *moves)
        for visit in TWO:
            body = operations(visit, phone)
            told = json.loads(running.post("/sync", body)[2])["results"]
            assert {one["status"] for one in told} == {"accepted"}, told
        yield running


def read(visitor: Visitor, path: str) -> tuple[str, bytes]:
    """A file of the page: its name and its content."""
    connection = http.client.HTTPConnection("127.0.0.1", visitor.service.port, timeout=120)
    connection.request("GET", path, headers={"Cookie": visitor.cookie})
    answer = connection.getresponse()
    content, name = answer.read(), answer.headers.get("Content-Disposition", "")
    connection.close()
    assert answer.status == 200, content
    return name, content


def rows(content: bytes) -> list[dict[str, str]]:
    """A CSV's rows by their headings."""
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def tables(visitor: Visitor, query: str) -> dict[str, list[list[str]]]:
    """The tables of the page by their titles, cell by cell without the titles of the cells."""
    text = visitor.ask("GET", f"/desk/books?{query}")[2]
    found = re.findall(r'<h2 id="table-\d">([^<]*)</h2>\s*<table.*?<tbody>(.*?)</tbody>', text, re.DOTALL)
    bare = re.compile(r'<span class="title".*?</span>|<[^>]*>')
    return {title: [[" ".join(bare.sub("", cell).replace("\u00a0", " ").split())
                     for cell in re.findall(r"<t[hd].*?</t[hd]>", row, re.DOTALL)]
                    for row in re.findall(r"<tr>.*?</tr>", body, re.DOTALL)] for title, body in found}


@pytest.mark.parametrize(("chosen", "entries", "sums"), [
    # Added up by hand from MOVED.
    ("", 6, [["R-1234yf", "200 g", "480 g", ""], ["R-134a", "400 g", "450 g", "1 without a mass"]]),
    ("&refrigerant=R1234yf", 2, [["R-1234yf", "200 g", "480 g", ""]]),
    ("&vehicle=ft55", 4, [["R-134a", "400 g", "450 g", "1 without a mass"]]),
    ("&cylinder=B7", 2, [["R-134a", "400 g", "0 g", ""]]),
    ("&vehicle=nobody", 0, []),
])  # fmt: skip
def test_what_is_chosen_is_listed_with_its_sums(
    desk: Service, visitor: Visitor, chosen: str, entries: int, sums: list[list[str]]
) -> None:
    """By refrigerant, by part of a plate, by cylinder; cylinders only where none of their moves is missing."""
    found = tables(visitor, JUNE + chosen)
    assert len(found.get("Entries", [])) == entries
    assert found.get("Totals", []) == sums
    assert ("Cylinders" in found) == (chosen in ("", "&cylinder=B7"))


def test_the_files_hold_the_same(desk: Service, visitor: Visitor) -> None:
    """CSV that no spreadsheet takes for a formula, with its totals; a PDF that says what was chosen."""
    name, content = read(visitor, f"/desk/books.csv?table=moves&{JUNE}&refrigerant=R1234yf")
    assert 'filename="ledger-2026-06-01-2026-06-30-R1234yf-moves.csv"' in name
    moved = {(float(row["grams"]), row["cylinder"]) for row in rows(content)}
    assert moved == {(200.0, "'" + HOSTILE), (480.0, "N2")}
    _, content = read(visitor, f"/desk/books.csv?table=sums&{JUNE}")
    assert {row["refrigerant"]: (float(row["recovered_g"]), float(row["charged_g"])) for row in rows(content)} == {
        "R1234yf": (200.0, 480.0), "R134a": (400.0, 450.0)}
    name, content = read(visitor, f"/desk/books.pdf?{JUNE}&vehicle=HMR+208")
    text = " ".join(PdfReader(io.BytesIO(content)).pages[0].extract_text().split())
    for words in ("Refrigerant ledger", "1 June 2026 to 30 June 2026", "“HMR 208”", "2 entries of refrigerant"):
        assert words in text, words
    assert "FT 5510" not in text


def test_the_page_of_a_day(desk: Service, visitor: Visitor) -> None:
    """Its visits and its cylinders, as tables and as files."""
    found = tables(visitor, "book=day&day=2026-06-12")
    assert len(found["Visits"]) == 3
    _, content = read(visitor, "/desk/books.csv?table=visits&book=day&day=2026-06-12")
    assert sorted(row["plate"] for row in rows(content)) == ["FT 5510", "FT 5519", "HMR 208"]
    _, content = read(visitor, "/desk/books.pdf?book=day&day=2026-06-12")
    assert "Day page" in PdfReader(io.BytesIO(content)).pages[0].extract_text()


def test_the_command_that_the_page_names_writes_the_same(desk: Service, visitor: Visitor) -> None:
    """With the same choice, into the folder's books."""
    page = visitor.ask("GET", f"/desk/books?{JUNE}&vehicle=HMR+208&cylinder=N2")[2]
    assert "layby ledger --from 2026-06-01 --to 2026-06-30 --vehicle &#39;HMR 208&#39; --cylinder N2" in page
    words = ("--from", "2026-06-01", "--to", "2026-06-30", "--vehicle", "HMR 208", "--cylinder", "N2")
    pdf, table = layby(desk, "ledger", *words).split()
    assert Path(pdf).name == "ledger-2026-06-01-2026-06-30-HMR-208-N2.pdf"
    assert [row["plate"] for row in rows(Path(table).read_bytes())] == ["HMR 208"]


@pytest.mark.parametrize("book", [JULY, "book=day&day=2026-07-14"])
def test_technicians_can_be_chosen_where_there_are_several(desk: Service, visitor: Visitor, book: str) -> None:
    """The list is those whom the period names; what is chosen stays chosen, and so it does in the command."""
    offered = re.compile(r'<option value="([^"]*)"( selected)?>([^<]*)</option>')
    page = visitor.ask("GET", f"/desk/books?{book}")[2]
    (listed,) = re.findall(r'<select id="technician".*?</select>', page, re.DOTALL)
    assert [(value, chosen) for value, chosen, _ in offered.findall(listed)] == [
        ("", ""), ("I. Varga", ""), (SECOND["name"], "")]
    page = visitor.ask("GET", f"/desk/books?{book}&technician=i.varga")[2]
    assert '<option value="I. Varga" selected>' in page
    assert "Only technician I. Varga." in page
    assert "--technician &#39;I. Varga&#39;" in page
    assert "technician=I.+Varga" in page
    assert 'id="technician"' not in visitor.ask("GET", f"/desk/books?{JUNE}")[2]


def test_the_tables_of_two_technicians(desk: Service, visitor: Visitor) -> None:
    """Added up by hand from TWO; of one technician's book only what is theirs."""
    found = tables(visitor, JULY)
    assert [row[:3] for row in found["Technicians"]] == [["I. Varga", "3", "22.5 km"], [SECOND["name"], "2", "31.4 km"]]
    assert [(row[0], row[-1]) for row in found["Cylinders that changed hands"]] == [
        ("B7", "−18 g"), ("B7", "not weighed"), ("R1", "−12 g")]
    assert [row[:2] for row in found["Cylinders"]] == [
        [cylinder, who] for cylinder in ("B7", "R1") for who in ("I. Varga", SECOND["name"], "all")] + [
        ["no cylinder given", "I. Varga"]]
    assert [row[:4] for row in found["Totals by technician"]] == [
        ["I. Varga", "R-1234yf", "0 g", "20 g"], ["I. Varga", "R-134a", "410 g", "550 g"],
        [SECOND["name"], "R-134a", "310 g", "780 g"]]
    own = tables(visitor, f"{JULY}&technician={SECOND['id']}")
    assert set(own) == {"Entries", "Totals", "Cylinders", "Cylinders that changed hands"}
    assert [row[0] for row in own["Cylinders"]] == ["B7", "R1"]
    assert "Technicians" not in tables(visitor, f"{JULY}&cylinder=B7")


def test_the_files_of_two_technicians(desk: Service, visitor: Visitor) -> None:
    """Who did how much, and what changed hands when; not where there is only one, and not of chosen vehicles."""
    _, content = read(visitor, f"/desk/books.csv?table=technicians&{JULY}")
    assert [(row["technician"], row["visits"], row["distance_km"], row["total"], row["unpaid"])
            for row in rows(content)] == [("I. Varga", "3", "22.5", "240.00", "0"),
                                          (SECOND["name"], "2", "31.4", "1374.60", "1374.60")]
    name, content = read(visitor, f"/desk/books.csv?table=transfers&{JULY}&technician=I.+Varga")
    assert 'filename="ledger-2026-07-01-2026-07-31-of-I-Varga-transfers.csv"' in name
    assert [(row["from"], row["to"], row["last_g"], row["first_at"]) for row in rows(content)] == [
        (SECOND["name"], "I. Varga", "9418", "2026-07-14T19:30:00+02:00"), ("I. Varga", SECOND["name"], "8862", ""),
        (SECOND["name"], "I. Varga", "5012", "2026-07-14T18:50:00+02:00")]
    for none in (f"table=transfers&{JUNE}", f"table=technicians&{JUNE}", f"table=transfers&{JULY}&vehicle=FT",
                 f"table=technicians&{JULY}&technician=I.+Varga"):
        assert visitor.ask("GET", f"/desk/books.csv?{none}")[0] == 404, none


@pytest.mark.parametrize(("query", "status", "said"), [
    ("from=yesterday", 422, "Enter it as YYYY-MM-DD."), ("from=2026-06-02&to=2026-06-01", 422, "2026-06-02"),
    ("from=0001-01-01", 422, "ten years"), ("book=day&day=never", 422, "Enter it as YYYY-MM-DD."),
])  # fmt: skip
def test_a_period_that_is_none_is_told_on_the_page(visitor: Visitor, query: str, status: int, said: str) -> None:
    """What was typed is kept."""
    answer = visitor.ask("GET", f"/desk/books?{query}")
    assert (answer[0], said in answer[2]) == (status, True)
    assert f'value="{query.split("=")[-1].split("&")[0]}"' in answer[2]


def test_nobody_reads_the_books_without_a_session(desk: Service, visitor: Visitor) -> None:
    """Not the page and not its files; and there are no other tables."""
    for path in ("books", "books.pdf", "books.csv?table=moves"):
        assert Visitor(desk).ask("GET", f"/desk/{path}")[1]["Location"] == "/desk/sign-in"
    for table in ("table=visits", "table=cylinders&vehicle=FT"):
        assert visitor.ask("GET", f"/desk/books.csv?{table}&{JUNE}")[0] == 404


def test_the_page_in_a_browser(desk: Service, visitor: Visitor) -> None:
    """Chosen without scripts; whole at 360 px and at 1180 px, in both languages and themes, by axe-core's rules."""
    found = list[str]()
    with borrowed() as browser:
        page = signed_in(browser.new_context(java_script_enabled=False, locale="en-GB").new_page(), desk)
        page.goto(f"{desk.url}/desk/books?{JUNE}")
        page.get_by_label("Refrigerant", exact=True).select_option("R1234yf")
        press(page, "button", "Show")
        assert page.get_by_label("Refrigerant", exact=True).input_value() == "R1234yf"
        with page.expect_download() as saved:
            page.get_by_role("link", name="Entries as CSV").click()
        assert saved.value.suggested_filename == "ledger-2026-06-01-2026-06-30-R1234yf-moves.csv"
        for language in ("en-GB", "es-ES"):
            page = signed_in(browser.new_context(bypass_csp=True, locale=language).new_page(), desk)
            for query in (JUNE, JULY, "book=day&day=2026-07-14"):
                page.goto(f"{desk.url}/desk/books?{query}")
                found += [f"{query}, {language}: {line}" for line in whole(page, axe=language == "es-ES")]
    assert found == []
