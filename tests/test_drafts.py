"""What the evening draws up from the records beside a visit: photos that have come, and those still on the phone.

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

from server.drafts import draft_of
from sync.logbook import Logbook
from sync.photos import PhotoStore
from tests.drawn_photos import digest, photo
from tests.ops import line_of
from tests.sheet_visits import PAIR, operations
from tests.test_evening import Desk
from tests.test_sheet_photos import drawn_on

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
    assert "Not yet arrived from the phone" in "".join(page.extract_text() for page in sheet(desk, first).pages)
    store = PhotoStore(desk.logbook.folder, floor_bytes=0)
    half = len(SHOT) // 2
    store.append(digest(SHOT), 0, len(SHOT), SHOT[:half])
    assert desk.make()[0]["number"] == 1
    store.append(digest(SHOT), half, len(SHOT), SHOT[half:])
    (second,) = desk.make()
    assert second["number"] == 2
    pages = sheet(desk, second).pages
    assert "Not yet arrived" not in "".join(page.extract_text() for page in pages)
    assert sum(drawn_on(page) for page in pages) == 1


def test_the_letter_carries_the_sheet_with_its_photo(desk: Desk) -> None:
    """Approved and sent, it is the very file that was looked at."""
    PhotoStore(desk.logbook.folder, floor_bytes=0).append(digest(SHOT), 0, len(SHOT), SHOT)
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
    """Rules that lack a language are a reason, not an end."""
    draft = draft_of(desk.logbook, VISIT["id"], rulebook, {"language": "xx", "paper": "A4"})
    assert draft.data is None
    assert draft.reason is not None
    assert draft.reason["code"] == "sheet_data"
