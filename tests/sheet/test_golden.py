"""The whole text, headings, tags and pages of a sheet or book of each kind, against what people found right.

Read back with pypdf, an independent reader. After an intended change run `python3 tests --write-golden
tests/sheet/test_golden.py`, then read the difference in tests/golden before you keep it.
"""

from __future__ import annotations

import re
from collections import Counter
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from reports.photos import derived
from reports.sheet import render
from tests.reports.test_sheet import roles
from tests.support.book_kinds import BOOKS, book_of
from tests.support.drawn_photos import digest
from tests.support.golden_kinds import KINDS, SHOTS, data_of

GOLDEN = Path(__file__).resolve().parents[1] / "golden"
# The marks of editions and revisions change with every sentence of the rulebook and say nothing about the sheet.
MARK = re.compile(r"\b[0-9a-f]{12}\b")


@pytest.fixture(scope="module")
def edition(rulebook: dict[str, Any]) -> dict[str, Any]:
    """The rulebook under an edition that never changes, whose width would otherwise break lines elsewhere."""
    return {**rulebook, "hash": "0123456789abcdef" * 4}


def account(reader: PdfReader) -> str:
    """A sheet as text: the lines of its pages, the order of headings, tables and figures, and its tags."""
    tags = [role.strip("/") for role, _ in roles(reader)]
    order = " ".join(role for role in tags if role in ("H1", "H2", "Table", "Figure"))
    counted = " ".join(f"{role}:{count}" for role, count in sorted(Counter(tags).items()))
    parts = [f"pages {len(reader.pages)}", f"order {order}", f"tags {counted}"]
    for number, page in enumerate(reader.pages, 1):
        lines = [" ".join(line.replace("\u00a0", " ").split()) for line in page.extract_text().splitlines()]
        parts += [f"--- page {number}", *(line for line in lines if line)]
    return MARK.sub("············", "\n".join(parts)) + "\n"


@pytest.mark.parametrize("kind", KINDS)
def test_a_sheet_reads_as_it_was_found_right(
    kind: str, edition: dict[str, Any], request: pytest.FixtureRequest
) -> None:
    """Every line of every page, in order; nothing more and nothing less."""
    pictures = {digest(shot): derived(shot) for shot in SHOTS}
    compare(kind, render(data_of(kind, edition), pictures), request)


@pytest.mark.parametrize("kind", BOOKS)
def test_a_book_reads_as_it_was_found_right(
    kind: str, rulebook: dict[str, Any], request: pytest.FixtureRequest
) -> None:
    """The same for day pages and ledgers, of one technician and of several."""
    compare(kind, render(book_of(kind, rulebook), {}), request)


def compare(kind: str, pdf: bytes, request: pytest.FixtureRequest) -> None:
    """Hold a PDF against the text that is kept of its kind, or keep its text."""
    found = account(PdfReader(BytesIO(pdf)))
    kept = GOLDEN / f"{kind}.txt"
    if request.config.getoption("--write-golden"):
        GOLDEN.mkdir(exist_ok=True)
        kept.write_text(found, "utf-8")
        pytest.fail(f"{kept.name} is written; read the difference, then run without --write-golden")
    assert found == kept.read_text("utf-8")


def test_no_account_is_kept_of_a_kind_that_is_gone() -> None:
    """The folder holds one text for each kind."""
    assert sorted(path.stem for path in GOLDEN.glob("*")) == sorted([*KINDS, *BOOKS])
