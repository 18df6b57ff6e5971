"""The head of page one with a logo: within its height, beside the name, on both papers, and left out where it can't be.

The millimetres are read from the pages with pypdf, an independent reader; the logos are drawn here.
"""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from PIL import Image
from pypdf import PageObject, PdfReader

from reports.photos import derived
from reports.print_pool import Press, photos_in
from reports.sheet import render
from sync.sheet.jobsheet import jobsheet, revision
from tests.reports.test_sheet import roles, text_of
from tests.support.drawn_photos import digest, photo
from tests.support.sheet_visits import DECLINED, judged

Rulebook = dict[str, Any]
WIDE, SQUARE = photo(1, 640, 160), photo(2, 300, 300)
SHORT = {"business": "Alder Coast", "name": "Ines Varga"}
LONG = {"business": "Alder Coast " * 16, "name": "Ines Varga", "email": "the-desk-of-the-coast@alder.example"}
MM = 72 / 25.4


def sheet_of(rulebook: Rulebook, technician: dict[str, str], logo: bytes | None, paper: str = "A4",
             own: str = "") -> dict[str, Any]:
    """The data of a visit's sheet under this business, with a logo in the settings."""
    visit = {**DECLINED, "technician": technician}
    settings = {"language": "en", "paper": paper, "technician": {"business": own}}
    settings |= {"logo": digest(logo)} if logo else {}
    return jobsheet(visit, judged(visit, rulebook), rulebook, settings, None)


def placed(page: PageObject) -> list[tuple[float, float]]:
    """Width and height of each photo on a page [mm]."""
    found: list[tuple[float, float]] = []

    def visit(operator: bytes, operands: Any, matrix: Any, _: Any) -> None:
        if operator == b"Do" and page["/Resources"]["/XObject"][operands[0]]["/Subtype"] == "/Image":
            found.append((abs(matrix[0]) / MM, abs(matrix[3]) / MM))

    page.extract_text(visitor_operand_before=visit)
    return found


@pytest.mark.parametrize(("logo", "paper", "technician", "size"), [
    (WIDE, "A4", SHORT, (42.0, 10.5)), (SQUARE, "Letter", SHORT, (11.0, 11.0)), (WIDE, "Letter", LONG, (42.0, 10.5)),
])  # fmt: skip
def test_a_logo_fits_into_the_head(
    rulebook: Rulebook, logo: bytes, paper: str, technician: dict[str, str], size: tuple[float, float]
) -> None:
    """As large as 42 by 11 mm allow, in its own shape; said to be the business's; page two has none."""
    data = sheet_of(rulebook, technician, logo, paper)
    reader = PdfReader(BytesIO(render(data, {digest(logo): derived(logo)})))
    assert next(str(node["/Alt"]) for role, node in roles(reader) if role == "/Figure") == technician["business"]
    assert placed(reader.pages[0]) == [pytest.approx(size, abs=0.1)]
    assert not any(placed(page) for page in reader.pages[1:])
    assert len(reader.pages) == len(PdfReader(BytesIO(render(sheet_of(rulebook, technician, None, paper)))).pages)


def test_a_logo_stands_only_on_the_sheets_of_its_business(rulebook: Rulebook) -> None:
    """It makes another revision there; without one, the data has no place for it."""
    bare, with_one = sheet_of(rulebook, SHORT, None), sheet_of(rulebook, SHORT, WIDE)
    assert "logo" not in bare["heading"]
    assert revision(bare) != revision(with_one) != revision(sheet_of(rulebook, SHORT, SQUARE))
    assert photos_in(with_one) == [digest(WIDE)]
    assert photos_in(sheet_of(rulebook, SHORT, WIDE, own="Alder Coast")) == [digest(WIDE)]
    assert photos_in(sheet_of(rulebook, SHORT, WIDE, own="Van Two")) == []


def test_a_logo_that_cannot_be_drawn_costs_only_itself(rulebook: Rulebook) -> None:
    """It breaks off, or is gone: the name still stands there; it is made small like a photo, by the child."""
    large = photo(3, 1600, 400)
    with Press() as press:
        for kept, count in ((large, 1), (large[:3000], 0), (None, 0)):
            data = sheet_of(rulebook, SHORT, large)
            reader = PdfReader(BytesIO(press.sheet(data, {digest(large): kept}.get)))
            assert len(placed(reader.pages[0])) == count
            assert "Alder Coast" in text_of(reader)
    with Image.open(BytesIO(derived(large))) as small:
        assert small.size == (800, 200)
