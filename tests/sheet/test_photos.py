"""Photos on the sheet: by role, captioned, whole on their pages, and named if they haven't arrived.

Read back with pypdf, an independent reader; the photos are drawn for the tests.
"""

from __future__ import annotations

import copy
import logging
import re
from collections.abc import Iterator
from io import BytesIO
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfReader

from reports.photos import LONGEST_PX, derived
from reports.print_pool import Press, photos_in
from reports.sheet import render
from sync.sheet.jobsheet import jobsheet, revision
from tests.reports.test_sheet import roles, text_of
from tests.support.drawn_photos import digest, photo
from tests.support.sheet_visits import DECLINED, PAIR, blocks_of, judged

Rulebook = dict[str, Any]
ROLES = ("other", "after", "before", "arrival")


@pytest.fixture(autouse=True)
def assert_no_logs(caplog: pytest.LogCaptureFixture) -> Iterator[None]:
    """A slip in the page or its style shows only as a logged warning: any warning fails the test."""
    logger = logging.getLogger("weasyprint")
    logger.addHandler(caplog.handler)
    yield
    logger.removeHandler(caplog.handler)
    assert [record.getMessage() for record in caplog.records if record.levelno >= logging.WARNING] == []


def photographed(shots: list[bytes], visit: dict[str, Any] = PAIR) -> dict[str, Any]:
    """The visit with these photos, with roles in turn, a minute apart."""
    return {**copy.deepcopy(visit), "photos": [
        {"sha256": digest(shot), "role": ROLES[number % len(ROLES)], "at": f"2026-07-14T14:{number:02d}:00+02:00"}
        for number, shot in enumerate(shots)]}


def sheet_of(visit: dict[str, Any], rulebook: Rulebook, arrived: list[bytes]) -> dict[str, Any]:
    """The data of a visit's sheet when these photos have arrived."""
    beside = {"photos": [digest(shot) for shot in arrived]}
    return jobsheet(visit, judged(visit, rulebook), rulebook, None, beside)


def printed(data: dict[str, Any], shots: list[bytes]) -> PdfReader:
    """The sheet, printed in a child as in the evening, and read back."""
    held = {digest(shot): shot for shot in shots}
    with Press() as press:
        return PdfReader(BytesIO(press.sheet(data, held.get)))


def drawn_on(page: Any) -> int:
    """How many photos a page draws; its resources list those of the whole file."""
    kinds = {name: item.get_object()["/Subtype"] for name, item in page["/Resources"].get("/XObject", {}).items()}
    content = page.get_contents().get_data().decode("latin-1")
    return sum(kinds[name] == "/Image" for name in re.findall(r"(/\S+) Do\b", content))


def test_photos_stand_by_role_with_captions(rulebook: Rulebook) -> None:
    """Before and after as the pair of page one, the rest on the technician's; each with the time it was taken."""
    shots = [photo(number) for number in range(4)]
    data = sheet_of(photographed(shots), rulebook, shots)
    shown = {name: [(item["role"], item["more"]) for item in block["photos"]]
             for name, block in blocks_of(data).items() if name in ("pair", "photos")}
    assert shown == {"pair": [("Before the work", "14:02"), ("After the work", "14:01")],
                     "photos": [("On arrival", "14:03"), ("Other", "14:00")]}
    text = text_of(printed(data, shots))
    places = [text.index(part) for part in ("Before the work 14:02", "After the work 14:01", "On arrival 14:03")]
    assert places == sorted(places)


def test_each_photo_is_a_figure_with_its_words(rulebook: Rulebook) -> None:
    """Read aloud, a photo says what it shows of the visit's course."""
    shots = [photo(1), photo(2)]
    reader = printed(sheet_of(photographed(shots, DECLINED), rulebook, shots), shots)
    told = [str(node["/Alt"]) for role, node in roles(reader) if role == "/Figure" and "/Alt" in node]
    assert told == ["Photo: after the work at 14:01", "Photo: other at 14:00"]


def test_what_the_file_carries_is_the_small_copy(rulebook: Rulebook) -> None:
    """The picture inside is the derived one: limited in length, a JPEG, and not the bytes that the phone sent."""
    shots = [photo(3, 1600, 1200)]
    reader = printed(sheet_of(photographed(shots, DECLINED), rulebook, shots), shots)
    (inside,) = reader.pages[0].images
    with Image.open(BytesIO(inside.data)) as picture:
        assert picture.size == (LONGEST_PX, LONGEST_PX * 3 // 4)
        assert picture.format == "JPEG"


def test_a_photo_still_on_the_phone_is_named(rulebook: Rulebook) -> None:
    """A sentence takes its place on the sheet; the ones that came are shown."""
    shots = [photo(number) for number in range(3)]
    visit = photographed(shots)
    data = sheet_of(visit, rulebook, shots[:1])
    assert photos_in(data) == [digest(shots[0])]
    text = text_of(printed(data, shots))
    assert "Still on the phone: before the work at 14:02, after the work at 14:01." in text
    none = text_of(printed(sheet_of(visit, rulebook, []), shots))
    assert "Still on the phone" in none


def test_a_photo_that_arrives_makes_a_new_revision(rulebook: Rulebook) -> None:
    """The sheet now says something else, so it is another sheet."""
    shots = [photo(1)]
    visit = photographed(shots)
    assert revision(sheet_of(visit, rulebook, [])) != revision(sheet_of(visit, rulebook, shots))


def test_a_photo_that_cannot_be_read_costs_only_itself(
    rulebook: Rulebook, caplog: pytest.LogCaptureFixture
) -> None:
    """The others are printed; the sheet says which is missing and the desk's log says why."""
    shots, broken = [photo(1)], b"\xff\xd8\xff broken"
    visit = photographed([*shots, broken])
    text = text_of(printed(sheet_of(visit, rulebook, [*shots, broken]), [*shots, broken]))
    assert "This photo can’t be read. After the work 14:01" in text
    assert "not_a_picture" in caplog.text


def test_thirty_photos_break_between_their_lines(rulebook: Rulebook) -> None:
    """Every photo is whole on one page together with its caption, upright and wide ones mixed."""
    shots = [photo(number, *((400, 300) if number % 4 else (300, 400))) for number in range(30)]
    reader = printed(sheet_of(photographed(shots), rulebook, shots), shots)
    assert sum(drawn_on(page) for page in reader.pages) == 30
    for page in reader.pages:
        text = page.extract_text() + "\n"
        captions = len(re.findall(r"(On arrival|Before the work|After the work|Other) 14:", text))
        assert captions == drawn_on(page)


def test_one_sheet_keeps_no_photo_for_the_next(rulebook: Rulebook) -> None:
    """A child that prints two sheets forgets the first one's photos."""
    shots = [photo(1)]
    data = sheet_of(photographed(shots), rulebook, shots)
    with Press() as press:
        with_it = press.sheet(data, {digest(shots[0]): shots[0]}.get)
        without = press.sheet(data, {}.get)
    assert sum(drawn_on(page) for page in PdfReader(BytesIO(with_it)).pages) == 1
    assert "This photo can’t be read." in text_of(PdfReader(BytesIO(without)))


def test_the_same_photos_give_the_same_sheet(rulebook: Rulebook) -> None:
    """Byte for byte, pictures and all."""
    shots = [photo(1), photo(2)]
    data = sheet_of(photographed(shots), rulebook, shots)
    pictures = {digest(shot): derived(shot) for shot in shots}
    assert render(data, pictures) == render(copy.deepcopy(data), pictures)


def test_a_photo_of_the_makers_chart_goes_to_no_customer(rulebook: Rulebook) -> None:
    """It is the desk's, which types the chart off it: neither shown nor named as waiting."""
    shots = [photo(number) for number in range(2)]
    visit = photographed(shots)
    for one in visit["photos"]:
        one["role"] = "chart"
    for arrived in (shots, []):
        data = sheet_of(visit, rulebook, arrived)
        assert not [block for block in blocks_of(data) if block in ("pair", "photos")]
