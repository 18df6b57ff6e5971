"""What the evening includes from the records around a visit: photos that have come, and those still on the phone.

Real journal, real store of photos, real press; the photos are drawn for the tests.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from server.tasks.sheet_data import inputs_of
from sync.records.logbook import Logbook
from sync.records.photos import PhotoStore
from tests.server.test_evening import Desk
from tests.sheet.test_photos import drawn_on
from tests.support.drawn_photos import digest, photo
from tests.support.ops import line_of, uuid7
from tests.support.sheet_visits import PAIR, STARTED_MS, blocks_of, operations

Rulebook = dict[str, Any]
SHOT = photo(5)
VISIT = {**copy.deepcopy(PAIR), "photos": [{"sha256": digest(SHOT), "role": "before", "at": PAIR["started_at"]}]}


@pytest.fixture
def desk(folder: Path, rulebook: Rulebook) -> Iterator[Desk]:
    """A visit with one photo filed; the photo itself is still on the phone."""
    with Logbook(folder, rulebook) as logbook:
        made = Desk(logbook, rulebook)
        made.file(operations(VISIT, made.phone))
        yield made


def sheet(desk: Desk, row: dict[str, Any]) -> PdfReader:
    """The row's PDF, read back."""
    return PdfReader(BytesIO((desk.logbook.folder / "sheets" / row["file"]).read_bytes()))


def test_a_photo_that_comes_later_makes_the_next_revision(desk: Desk) -> None:
    """The first sheet says that it is missing, the second shows it."""
    (first,) = desk.make()
    assert "Still on the phone" in "".join(page.extract_text() for page in sheet(desk, first).pages)
    store = PhotoStore(desk.logbook.files)
    half = len(SHOT) // 2
    store.append(digest(SHOT), 0, len(SHOT), SHOT[:half])
    assert desk.make()[0]["number"] == 1
    store.append(digest(SHOT), half, len(SHOT), SHOT[half:])
    (second,) = desk.make()
    assert second["number"] == 2
    pages = sheet(desk, second).pages
    assert "Still on the phone" not in "".join(page.extract_text() for page in pages)
    assert sum(drawn_on(page) for page in pages) == 1


def test_the_letter_carries_the_sheet_with_its_photo(desk: Desk) -> None:
    """Approved and sent, it is exactly the file that was looked at."""
    PhotoStore(desk.logbook.files).append(digest(SHOT), 0, len(SHOT), SHOT)
    desk.make()
    desk.approve(VISIT["id"])
    assert [row["state"] for row in desk.send()] == ["sent"]


def test_a_visit_declared_void_after_approval_is_not_sent(desk: Desk) -> None:
    """It says why, and nothing leaves."""
    desk.make()
    desk.approve(VISIT["id"])
    desk.file(line_of(desk.phone.op(VISIT["id"], "visit.void", {"reason": "entered twice"})))
    (row,) = desk.send()
    assert (row["state"], row["reason"]["code"]) == ("failed", "void")
    assert not (desk.logbook.folder / "outgoing").exists()


def test_a_draft_says_why_there_is_none(desk: Desk, rulebook: Rulebook) -> None:
    """Rules that lack a sentence are a reason, not an end."""
    sheet = inputs_of(desk.logbook, VISIT["id"], {**rulebook, "words": {}}, {"language": "en", "paper": "A4"})
    assert sheet.data is None
    assert sheet.reason is not None
    assert sheet.reason["code"] == "sheet_data"


def another(visit: dict[str, Any], number: int, started: str, **vehicle: Any) -> dict[str, Any]:
    """The same visit on another day, with its vehicle changed like this."""
    made = {**copy.deepcopy(PAIR), "id": uuid7(STARTED_MS - number * 86_400_000, 50 + number), "started_at": started}
    made["vehicle"].update(vehicle)
    for test in made["tests"]:
        test["at"] = started
    return made


def history(desk: Desk, rulebook: Rulebook) -> list[str]:
    """The labels of the marks on the vehicle's own picture, [] where there is none."""
    sheet = inputs_of(desk.logbook, VISIT["id"], rulebook, {"language": "en", "paper": "A4"})
    assert sheet.data is not None
    plots = blocks_of(sheet.data).get("technician", {}).get("plots", [])
    return [point["label"] for plot in plots if plot["kind"] == "visits" for point in plot["points"]]


def test_a_vehicles_earlier_visits_are_found_by_its_id_and_its_number(desk: Desk, rulebook: Rulebook) -> None:
    """The same id, or another id with the same VIN in any spacing; no other vehicle, void visit or later one."""
    assert history(desk, rulebook) == []
    by_id = another(PAIR, 300, "2025-09-17T10:00:00+02:00", vin=None)
    by_vin = another(PAIR, 30, "2026-06-14T10:00:00+02:00", id="v9", vin="1g4ah59h45g 118341")
    other = another(PAIR, 40, "2026-06-04T10:00:00+02:00", id="v8", vin="11111111111111111")
    void = another(PAIR, 50, "2026-05-25T10:00:00+02:00")
    later = another(PAIR, -5, "2026-07-19T10:00:00+02:00")
    for visit in (by_id, by_vin, other, void, later):
        desk.file(operations(visit, desk.phone))
    desk.file(line_of(desk.phone.op(void["id"], "visit.void", {"reason": "entered twice"})))
    assert history(desk, rulebook) == ["17 Sept 2025", "14 Jun 2026", "before", "after"]
