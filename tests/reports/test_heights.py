"""Heights estimated before a page is laid out, compared with those that the printer then produces.

The printer is WeasyPrint; the layout of a page is read from the places on it.
"""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from reports import columns, fonts, heights
from reports.photos import derived
from reports.sheet import Way, _content, _foretold, _mended, _set, render
from tests.support.drawn_photos import digest
from tests.support.golden_kinds import KINDS, SHOTS, data_of

Rulebook = dict[str, Any]
MM = 25.4 / 96.0
# A wrong guess costs a second layout, nothing more.
NEAR_MM = 10.0


@pytest.fixture(scope="module")
def pictures() -> dict[str, bytes]:
    """The photos of the kinds."""
    return {digest(shot): derived(shot) for shot in SHOTS}


def end_of(page: Any) -> float:
    """How far below the top margin the last line on a page ends [mm]."""
    box = page._page_box
    lines = [each for child in box.children if "Margin" not in type(child).__name__ for each in child.descendants()
             if type(each).__name__ in ("LineBox", "TableCellBox")]
    return max((float(each.position_y + each.height) - float(box.margin_top)) * MM for each in lines)


@pytest.mark.parametrize("kind", KINDS)
def test_heights_are_foretold_to_a_centimetre(kind: str, rulebook: Rulebook, pictures: dict[str, bytes]) -> None:
    """Both pages of each kind as they are first set."""
    content = _content(data_of(kind, rulebook), pictures)
    way, paper = _foretold(content), content.sheet["paper"]
    pages = _set(content, way).pages
    setting = heights.CUSTOMER if way.customer == "usual" else heights.CUSTOMER_CLOSER
    high = heights.of_customer(content.sheet, columns.of_customer(content.customer), setting)
    assert high == pytest.approx(end_of(pages[0]), abs=NEAR_MM)
    if content.technician:
        room = (heights.USUAL if way.technician == "usual" else heights.CLOSER).room[paper]
        over = columns.of_technician(content.technician, way.technician, paper).over
        assert room + over == pytest.approx(end_of(pages[1]), abs=NEAR_MM)


@pytest.mark.parametrize("kind", KINDS)
def test_a_kind_takes_a_page_for_each_reader(kind: str, rulebook: Rulebook, pictures: dict[str, bytes]) -> None:
    """No kind has so much content that it needs a third page."""
    data = data_of(kind, rulebook)
    assert len(PdfReader(BytesIO(render(data, pictures))).pages) == (2 if data["technician"] else 1)


def test_each_page_is_set_closer_for_itself(rulebook: Rulebook) -> None:
    """Refrigerant moves fill only the technician's page; the customer's stays as it is."""
    assert _foretold(_content(data_of("recharged", rulebook), {})) == Way("usual", "closer")


def test_a_page_that_spills_after_all_is_mended(rulebook: Rulebook, pictures: dict[str, bytes]) -> None:
    """Set as usual, both pages of this kind spill over, and each is set closer; what fits is left alone."""
    content = _content(data_of("american", rulebook), pictures)
    assert _mended(_set(content, Way()), Way()) == Way("closer", "closer")
    closer = Way("closer", "closer")
    assert _mended(_set(content, closer), closer) is None


def test_widths_are_those_of_the_typeface() -> None:
    """Digits of Source Sans are 497 units of 1000 wide, a space 200 (the file's own table, read by hand)."""
    assert fonts.width("1,4") == pytest.approx(2 * 0.497 + fonts.width(","))
    assert fonts.width(" ") == pytest.approx(0.2)
