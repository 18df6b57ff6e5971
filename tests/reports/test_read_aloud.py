"""Sheets as PDF/UA-1 requires, by structure: all content tagged or an artifact, each tag's content there once.

ISO 14289-1:2014 and ISO 32000-1:2008, section 14.8, from memory; read with pypdf, an independent reader.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from io import BytesIO
from itertools import pairwise
from typing import Any

import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream

from reports.photos import derived
from reports.sheet import render
from tests.reports.test_sheet import roles
from tests.support.drawn_photos import digest
from tests.support.golden_kinds import SHOTS, data_of

KINDS = ("declined", "followed_by_trace", "photographed", "recharged")
# Known deviation: the renderer numbers a margin's texts but doesn't name them in the tree, because an artifact there
# would need PDF 2.0. They are the running line and the page number, the last two pieces of each page.
MARGIN_TEXTS = 2
# What puts ink on the page; these paint paths too.
SHOWS = {b"Tj", b"TJ", b"'", b'"', b"Do", b"f", b"F", b"f*", b"S", b"s", b"B", b"B*", b"b", b"b*", b"sh", b"EI"}


@pytest.fixture(scope="module", params=KINDS)
def reader(request: pytest.FixtureRequest, rulebook: dict[str, Any]) -> PdfReader:
    """A sheet of each of four kinds, one with a logo, printed and read back."""
    pictures = {digest(shot): derived(shot) for shot in SHOTS}
    data = data_of(request.param, rulebook)
    if request.param == "photographed":
        data["heading"]["logo"] = digest(SHOTS[0])
    return PdfReader(BytesIO(render(data, pictures)))


def marked(reader: PdfReader) -> Iterator[tuple[int, int]]:
    """(page, number) of every piece of marked content; ink outside any mark fails at once."""
    for number, page in enumerate(reader.pages):
        depth: list[int | None] = []
        for operands, operator in ContentStream(page.get_contents(), reader).operations:
            if operator in (b"BDC", b"BMC"):
                properties = operands[1] if operator == b"BDC" and isinstance(operands[1], dict) else {}
                depth.append(properties.get("/MCID"))
                if depth[-1] is not None:
                    yield number, int(depth[-1])
                elif operands[0] != "/Artifact":
                    assert len(depth) > 1, f"page {number + 1}: {operands[0]} without a number"
            elif operator == b"EMC":
                depth.pop()
            elif operator in SHOWS:
                assert depth, f"page {number + 1}: {operator!r} outside of any mark"
        assert depth == []


def referred(reader: PdfReader) -> list[tuple[int, int]]:
    """(page, number) of every piece of content that the tree of structure names."""
    pages = {page.indirect_reference.idnum: number for number, page in enumerate(reader.pages)}
    found: list[tuple[int, int]] = []

    def walk(node: Any, page: int | None) -> None:
        node = node.get_object()
        if isinstance(node, int):
            assert page is not None
            found.append((page, int(node)))
        elif isinstance(node, list):
            for child in node:
                walk(child, page)
        elif isinstance(node, dict):
            page = pages[node.raw_get("/Pg").idnum] if "/Pg" in node else page
            if node.get("/Type") == "/MCR":
                walk(node["/MCID"], page)
            elif "/K" in node:
                walk(node["/K"], page)

    walk(reader.trailer["/Root"]["/StructTreeRoot"]["/K"], None)  # type: ignore[index]
    return found


def test_all_ink_is_tagged_or_an_artifact_and_tagged_once(reader: PdfReader) -> None:
    """Each numbered piece is named in one place of the tree, except margin texts; no place names a missing one."""
    numbered = Counter(marked(reader))
    assert numbered
    assert set(numbered.values()) == {1}
    margins = set()
    for page in range(len(reader.pages)):
        numbers = sorted(number for at, number in numbered if at == page)
        margins |= {(page, number) for number in numbers[-MARGIN_TEXTS:]}
    assert Counter(referred(reader)) == Counter({piece: 1 for piece in numbered if piece not in margins})


def test_headings_descend_one_level_at_a_time(reader: PdfReader) -> None:
    """One H1 first, then H2: no level is skipped (7.4.2)."""
    levels = [int(role[2:]) for role, _ in roles(reader) if role[:2] == "/H" and role[2:].isdigit()]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_every_figure_says_what_it_shows(reader: PdfReader) -> None:
    """An alternative text that is a sentence, not a file's name (7.3)."""
    for role, node in roles(reader):
        if role == "/Figure":
            assert len(str(node.get("/Alt", "")).split()) >= 2


def test_each_cell_of_a_table_names_its_heads(reader: PdfReader) -> None:
    """Every cell names its headers by their ids, so no scope is needed (7.5); and each of those headers exists."""
    tags = roles(reader)
    assert all(node["/A"]["/Headers"] for role, node in tags if role == "/TD")
    heads = {str(node["/ID"]) for role, node in tags if role == "/TH"}
    named = {str(head) for role, node in tags if role == "/TD" for head in node["/A"]["/Headers"]}
    assert named <= heads


def test_the_document_says_what_it_is(reader: PdfReader) -> None:
    """Marked, a language, a title that the window shows, and the standard it follows (7.1, 7.2)."""
    root: Any = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"].value is True
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"].value is True
    metadata = root["/Metadata"].get_object().get_data()
    assert b"pdfuaid:part" in metadata
    assert b"dc:title" in metadata


def test_letters_can_be_read_back_and_nothing_acts(reader: PdfReader) -> None:
    """Each font is in the file and says which letters it draws (7.21); no script, no link, no attachment."""
    root: Any = reader.trailer["/Root"]
    assert not {"/OpenAction", "/AA", "/AcroForm", "/AF"} & set(root)
    assert "/JavaScript" not in (root.get("/Names") or {})
    assert "/EmbeddedFiles" not in (root.get("/Names") or {})
    for page in reader.pages:
        assert "/AA" not in page
        assert not page.get("/Annots")
        assert isinstance(page["/StructParents"], int)
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            assert "/ToUnicode" in font.get_object()


def test_the_tree_finds_its_way_back_from_each_page(reader: PdfReader) -> None:
    """The parent tree has an entry for each page's number."""
    root: Any = reader.trailer["/Root"]
    numbers = root["/StructTreeRoot"]["/ParentTree"]["/Nums"]
    keys = [int(key) for key in numbers[::2]]
    assert set(keys) >= {int(page["/StructParents"]) for page in reader.pages}
