"""The printed sheet: every text there and nothing else, tagged and embedded, closed to the outside, the same each time.

Read back with pypdf, an independent reader. Structure by ISO 14289-1:2014 (PDF/UA-1), from memory.
"""

from __future__ import annotations

import copy
import logging
import re
import socket
import sys
import threading
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from jinja2 import UndefinedError
from pypdf import PdfReader

from reports import fonts
from reports.sheet import fetcher, markup, render
from sync.sheet.jobsheet import jobsheet, marked
from tests.support import children
from tests.support.sheet_visits import ALL, COMPARISON, DECLINED, PAIR, SINGLE, judged

Rulebook = dict[str, Any]


@pytest.fixture(autouse=True)
def assert_no_logs(caplog: pytest.LogCaptureFixture) -> Iterator[None]:
    """A slip in the page or its style shows only as a logged warning: any warning fails the test."""
    logger = logging.getLogger("weasyprint")
    logger.addHandler(caplog.handler)
    yield
    logger.removeHandler(caplog.handler)
    assert [record.getMessage() for record in caplog.records if record.levelno >= logging.WARNING] == []


def data_of(visit: dict[str, Any], rulebook: Rulebook, comparison: dict[str, Any] | None = None,
            **settings: str) -> dict[str, Any]:
    """The marked data of a visit's sheet."""
    assessment = judged(visit, rulebook, comparison)
    return marked(jobsheet(visit, assessment, rulebook, settings), 1, rulebook)


def reader_of(data: dict[str, Any]) -> PdfReader:
    """The sheet, printed and read back."""
    return PdfReader(BytesIO(render(data)))


def text_of(reader: PdfReader) -> str:
    """All text of a sheet on one line, so that the page's line ends don't matter."""
    return " ".join(" ".join(page.extract_text() for page in reader.pages).replace("\u00a0", " ").split())


def squeezed(text: str) -> str:
    """Text without any space, for words that the page broke across lines."""
    return re.sub(r"\s+", "", text)


def roles(reader: PdfReader) -> list[tuple[str, Any]]:
    """Every structure element of the tag tree: its role and itself."""
    found: list[tuple[str, Any]] = []

    def walk(node: Any) -> None:
        node = node.get_object()
        if isinstance(node, list):
            for child in node:
                walk(child)
        elif isinstance(node, dict):
            if "/S" in node:
                found.append((str(node["/S"]), node))
            if "/K" in node:
                walk(node["/K"])

    walk(reader.trailer["/Root"]["/StructTreeRoot"]["/K"])  # type: ignore[index]
    return found


@pytest.mark.parametrize(("name", "pages"), [("pair", 2), ("single", 2), ("declined", 1), ("moved", 2)])
def test_each_kind_of_visit_has_its_pages(name: str, pages: int, rulebook: Rulebook) -> None:
    """One for the customer, one for the next technician if a test was made; each shows its number and the total."""
    reader = reader_of(data_of(ALL[name], rulebook))
    assert len(reader.pages) == pages
    for number, page in enumerate(reader.pages, 1):
        assert f"Page {number} of {pages}" in page.extract_text()


def test_what_was_typed_stands_on_the_sheet(rulebook: Rulebook) -> None:
    """Names, figures with uncertainty, work, checks, advice, money, cautions, signature line, small print."""
    text = text_of(reader_of(data_of(PAIR, rulebook, COMPARISON)))
    for part in ("Alder Coast Mobile Cooling", "I. Varga, certificate AC-0173 until March 2028", "Noor Halloran",
                 "14 July 2026, 13:55 to 15:20", "Wren Lane 4", "610 m above sea level", "VIN 1G4AH59H45G118341",
                 "The condenser was cleaned.", "High side, psi 214 167", "cleaner 1 to 4", "two thirds under dirt",
                 "Rinse the face each spring.", "Total, EUR 120.00", "certified people under the local law",
                 "Agreed: the work and the price.", "± is the 95 % uncertainty", "Revision 1, "):
        assert part in text, part


def test_headings_follow_the_visit_in_order(rulebook: Rulebook) -> None:
    """One title, then the sections of the customer's page, then the technician's page with its own a level below."""
    reader = reader_of(data_of(PAIR, rulebook))
    found = [role for role, _ in roles(reader) if role in ("/H1", "/H2", "/H3")]
    assert found[0] == "/H1"
    assert found.count("/H1") == 1
    text = text_of(reader)
    heads = ["What we found and did", "What we advise", "Price", "Please note", "For the next technician", "Readings",
             "Before the work: what fitted"]
    places = [text.index(head) for head in heads]
    assert places == sorted(places)
    assert found.count("/H2") == 5


def test_a_sheet_can_be_read_aloud(rulebook: Rulebook) -> None:
    """PDF/UA-1: marked, language, title shown, headed table cells, pictures with their finding."""
    reader = reader_of(data_of(PAIR, rulebook, COMPARISON))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]  # type: ignore[index]
    assert root["/Lang"] == "en"  # type: ignore[index]
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]  # type: ignore[index]
    assert b"pdfuaid:part" in root["/Metadata"].get_object().get_data()  # type: ignore[index]
    assert reader.metadata.title == "Job sheet, 14 July 2026, Wren Lane 4"  # type: ignore[union-attr]
    assert reader.metadata.author == "Alder Coast Mobile Cooling"  # type: ignore[union-attr]
    tags = roles(reader)
    figures = [node for role, node in tags if role == "/Figure"]
    assert len(figures) >= 3  # at least a strip, the parts of the change and the signature
    assert all(str(figure["/Alt"]).strip() for figure in figures)
    cells = [node for role, node in tags if role == "/TD"]
    assert cells
    assert all(cell["/A"]["/Headers"] for cell in cells)


def test_type_is_embedded(rulebook: Rulebook) -> None:
    """Every font is in the file, and only the sheet's own."""
    names = set()
    for page in reader_of(data_of(PAIR, rulebook)).pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            kept = font.get_object()["/DescendantFonts"][0].get_object()
            names.add(str(kept["/BaseFont"]))
            assert {"/FontFile2", "/FontFile3"} & set(kept["/FontDescriptor"].get_object())
    assert names
    assert all(re.fullmatch(r"/[A-Z]{6}\+Sheet-(Sans|Serif)(-Semi-Bold)?", name) for name in names), names


@pytest.mark.parametrize("name", ["Noor Ångström-Łąkowski", "Πέτρος Παπαδόπουλος", "Жанна Ёлкина", "Ğülşen Çağlayan"])
def test_names_of_europe_are_printed(name: str, rulebook: Rulebook) -> None:
    """Accented Latin, Greek and Cyrillic keep every letter."""
    assert name in text_of(reader_of(data_of({**DECLINED, "customer": {"name": name}}, rulebook)))


def test_a_letter_the_type_lacks_is_named(rulebook: Rulebook) -> None:
    """Nothing vanishes: a code point stands in for a letter that can't be drawn."""
    text = text_of(reader_of(data_of({**DECLINED, "customer": {"name": "王 Wren"}}, rulebook)))
    assert "[U+738B] Wren" in text


@pytest.mark.parametrize(("paper", "width", "height"), [("A4", 210.0, 297.0), ("Letter", 215.9, 279.4)])
def test_paper_is_as_set(paper: str, width: float, height: float, rulebook: Rulebook) -> None:
    """A4 (ISO 216) or US Letter (ANSI Y14.1), in millimetres."""
    box = reader_of(data_of(SINGLE, rulebook, paper=paper)).pages[0].mediabox
    assert float(box.width) * 25.4 / 72 == pytest.approx(width, abs=0.05)
    assert float(box.height) * 25.4 / 72 == pytest.approx(height, abs=0.05)


def test_the_same_data_gives_the_same_bytes(rulebook: Rulebook, tmp_path: Path) -> None:
    """Here twice, and in another process with another hash seed."""
    import json

    data = data_of(PAIR, rulebook, COMPARISON)
    here = render(data)
    assert render(copy.deepcopy(data)) == here
    (tmp_path / "data.json").write_text(json.dumps(data), "utf-8")
    code = ("import json, sys, pathlib; from reports.sheet import render;"
            " sys.stdout.buffer.write(render(json.loads(pathlib.Path(sys.argv[1]).read_text('utf-8'))))")
    command = [sys.executable, "-c", code, tmp_path / "data.json"]
    surroundings = {"PYTHONHASHSEED": "7", "PATH": "/usr/bin:/bin"}
    done = children.run(command, check=True, text=False, env=surroundings, cwd=Path(__file__).parents[2])
    assert done.stdout == here


def test_a_missing_part_is_an_error_not_a_gap(rulebook: Rulebook) -> None:
    """The page names what it needs; a missing name stops it."""
    data = data_of(PAIR, rulebook)
    del data["heading"]["title"]
    with pytest.raises(UndefinedError) as refused:
        markup(data)
    assert "title" in str(refused.value)


HOSTILE = (
    "<script>alert(1)</script>",
    "<img src='file:///etc/passwd'>",
    "</p><link rel=attachment href='file:///etc/hostname'>",
    "{{ sheet.title }} {% raw %}",
    "</style><style>body{display:none}</style>",
    "\\0000<!-- & --> &lt;b&gt;",
    "url(http://127.0.0.1:9/x) \"; } @import 'x'",
)


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_printed_as_text(text: str, rulebook: Rulebook) -> None:
    """Markup, style and template characters in a note are letters on paper."""
    visit = copy.deepcopy(PAIR)
    visit["advice"] = [{"id": "d1", "text": text}]
    visit["customer"]["name"] = text
    visit["place"]["label"] = text
    visit["tests"][0]["note"] = text
    printed = squeezed(text_of(reader_of(data_of(visit, rulebook))))
    assert printed.count(squeezed(text)) >= 4


def test_control_characters_leave_a_visible_mark(rulebook: Rulebook) -> None:
    """Null, escape and direction marks hide nothing."""
    visit = {**DECLINED, "customer": {"name": "a\x00b\x1bc\u202ed"}}
    assert "a☐b☐c☐d" in text_of(reader_of(data_of(visit, rulebook)))


@pytest.mark.parametrize("letter", ["w ", "x", "\x07", "<"])
def test_a_note_of_a_megabyte_is_cut_where_it_says_so(letter: str, rulebook: Rulebook) -> None:
    """Given to the printer directly, bypassing every border: printed as far as possible, and the rest counted."""
    data = data_of(DECLINED, rulebook)
    data["blocks"].insert(0, {"name": "found", "kind": "prose", "title": "Found", "paragraphs": [
        {"lead": "", "text": (letter * 1_000_000)[:1_000_000]}]})
    text = text_of(reader_of(data))
    assert "[… +980000]" in text
    assert squeezed(text).count({"\x07": "☐"}.get(letter, letter).strip()) >= 20_000 // len(letter)


def test_the_fetcher_lets_only_data_through(tmp_path: Path) -> None:
    """A canary file and a canary port are never touched; data: is allowed."""
    canary = tmp_path / "canary.txt"
    canary.write_text("canary", "utf-8")
    with socket.socket() as port:
        port.bind(("127.0.0.1", 0))
        port.listen()
        port.settimeout(0.2)
        for url in (canary.as_uri(), f"http://127.0.0.1:{port.getsockname()[1]}/", "ftp://127.0.0.1/x", "FILE:///etc/passwd"):
            with pytest.raises(ValueError, match="disallowed protocol"):
                fetcher()(url)
        with pytest.raises(TimeoutError):
            port.accept()
    assert fetcher()("data:text/plain,hello").read() == b"hello"


def test_a_sheet_touches_no_file_and_no_port_that_its_texts_name(rulebook: Rulebook, tmp_path: Path) -> None:
    """Links to a canary file and port in every text of a visit: neither is opened while printing."""
    canary = tmp_path / "canary.svg"
    canary.write_text("<svg xmlns='http://www.w3.org/2000/svg'/>", "utf-8")
    touched = []
    with socket.socket() as port:
        port.bind(("127.0.0.1", 0))
        port.listen()
        url = f"http://127.0.0.1:{port.getsockname()[1]}/canary"

        def watch(event: str, arguments: tuple[Any, ...]) -> None:
            if watching.is_set() and (event == "socket.connect" or (event == "open" and "canary" in str(arguments[0]))):
                touched.append((event, arguments))

        watching = threading.Event()
        sys.addaudithook(watch)
        watching.set()
        links = f"<img src='{canary.as_uri()}'><link rel=stylesheet href='{url}'> @import url({url})"
        visit = {**copy.deepcopy(PAIR), "complaint": links, "advice": [{"id": "d1", "text": links}]}
        render(data_of(visit, rulebook))
        watching.clear()
    assert touched == []


def test_long_names_and_notes_stay_on_the_paper(rulebook: Rulebook) -> None:
    """A name of 200 letters without a space and a note of 4,000 are printed completely, on as many pages as needed."""
    visit = copy.deepcopy(PAIR)
    visit["customer"]["name"] = "N" * 200
    visit["advice"] = [{"id": "d1", "text": "word " * 799 + "end"}]
    text = squeezed(text_of(reader_of(data_of(visit, rulebook))))
    assert "N" * 200 in text
    assert text.count("word") == 799  # a page's foot may come between two of them
    assert "wordend" in text


def test_a_long_table_repeats_its_head(rulebook: Rulebook) -> None:
    """Sixty price lines: each page of the table shows the column headings."""
    visit = copy.deepcopy(PAIR)
    visit["charges"] = [{"id": f"p{n}", "text": f"Line {n}", "quantity": "1", "unit_price": "1.00", "tax_pct": "0"}
                        for n in range(60)]
    pages = [page.extract_text() for page in reader_of(data_of(visit, rulebook)).pages]
    with_lines = [page for page in pages if re.search(r"Line \d", page)]
    assert len(with_lines) >= 2
    assert all("What" in page and "Sum" in page for page in with_lines)


def test_the_type_holds_the_signs_the_sheet_uses() -> None:
    """Minus, degree, plus-minus, dashes, the mark for unprintable characters, Greek and Cyrillic."""
    for sign in "−°±–—·×₂☐’½αωЖя":
        assert ord(sign) in fonts.letters(), sign
