"""The sheetbook: what was made, approved, queued, sent or failed, kept safely and told in order."""

from __future__ import annotations

from pathlib import Path

import pytest

from sync.records.sheetbook import Sheetbook, UnknownSheet, at_of, state_of
from sync.records.storage import Unreadable
from tests.support.ops import uuid7
from tests.support.sheet_visits import STARTED_MS

VISIT, OTHER = uuid7(STARTED_MS, 1), uuid7(STARTED_MS + 86_400_000, 2)
FIRST, SECOND = "a" * 64, "b" * 64
DAY_MS = 86_400_000


@pytest.fixture
def sheetbook(folder: Path) -> Sheetbook:
    """An empty one."""
    return Sheetbook(folder)


def note(sheetbook: Sheetbook, state: str, at: int, revision: str = FIRST, visit: str = VISIT) -> None:
    """Add a state without a reason."""
    sheetbook.note(visit, revision, {"state": state, "at": at, "reason": None})


def test_a_printed_sheet_is_a_file_and_a_record(sheetbook: Sheetbook, folder: Path) -> None:
    """The PDF lies under its visit and revision; the record says made and when."""
    record = sheetbook.keep(VISIT, FIRST, b"%PDF", 5)
    assert sheetbook.pdf(record) == folder / "sheets" / f"{VISIT}-aaaaaaaaaaaa.pdf"
    assert sheetbook.pdf(record).read_bytes() == b"%PDF"
    assert record["states"] == [{"state": "made", "at": 5, "reason": None}]
    assert record["number"] == 1


def test_every_state_is_kept_with_its_time_and_reason(sheetbook: Sheetbook) -> None:
    """History is added to, never rewritten."""
    sheetbook.keep(VISIT, FIRST, b"%PDF", 5)
    note(sheetbook, "approved", 6)
    note(sheetbook, "queued", 7)
    reason = {"code": "mail_refused", "values": {"said": "550 no"}}
    sheetbook.note(VISIT, FIRST, {"state": "failed", "at": 8, "reason": reason})
    record = sheetbook.record(VISIT, FIRST)
    assert [(entry["state"], entry["at"]) for entry in record["states"]] == [
        ("made", 5), ("approved", 6), ("queued", 7), ("failed", 8)]
    assert record["states"][-1]["reason"] == reason
    assert (state_of(record), at_of(record, "approved"), at_of(record, "sent")) == ("failed", 6, None)


def test_another_instance_finds_all_of_it(sheetbook: Sheetbook, folder: Path) -> None:
    """What one process wrote, the next one reads."""
    sheetbook.keep(VISIT, FIRST, b"%PDF", 5)
    note(sheetbook, "approved", 6)
    later = Sheetbook(folder)
    assert later.records(VISIT) == sheetbook.records(VISIT)
    assert later.underway() == [(VISIT, FIRST)]


def test_a_changed_visit_has_a_second_revision(sheetbook: Sheetbook) -> None:
    """Numbered on, the older kept; printing the first again keeps its number."""
    sheetbook.keep(VISIT, FIRST, b"%PDF 1", 5)
    sheetbook.keep(VISIT, SECOND, b"%PDF 2", 9)
    assert [(record["revision"], record["number"]) for record in sheetbook.records(VISIT)] == [(FIRST, 1), (SECOND, 2)]
    newest = sheetbook.newest(VISIT)
    assert newest is not None
    assert newest["revision"] == SECOND
    assert sheetbook.number_for(VISIT, FIRST) == 1
    assert sheetbook.number_for(VISIT, "c" * 64) == 3


def test_a_sheet_that_never_printed_counts_for_no_number(sheetbook: Sheetbook) -> None:
    """The customer never saw it: the next one is still the first."""
    note(sheetbook, "failed", 4)
    assert sheetbook.newest(VISIT) is None
    assert sheetbook.keep(VISIT, SECOND, b"%PDF", 9)["number"] == 1


def test_only_approved_and_queued_sheets_are_underway(sheetbook: Sheetbook) -> None:
    """What waits for a person or is over is not touched by the post."""
    for visit in (VISIT, OTHER):
        sheetbook.keep(visit, FIRST, b"%PDF", 5)
        note(sheetbook, "approved", 6, visit=visit)
    note(sheetbook, "queued", 7)
    assert set(sheetbook.underway()) == {(VISIT, FIRST), (OTHER, FIRST)}
    note(sheetbook, "sent", 8)
    note(sheetbook, "failed", 8, visit=OTHER)
    assert sheetbook.underway() == []


def test_what_waits_for_approval_is_found(sheetbook: Sheetbook) -> None:
    """Newest sheets in state made, and only among the recent days."""
    for days in range(40):
        sheetbook.keep(uuid7(STARTED_MS + days * DAY_MS, days), FIRST, b"%PDF", 5)
    newest = uuid7(STARTED_MS + 39 * DAY_MS, 39)
    note(sheetbook, "approved", 6, visit=newest)
    waiting = sheetbook.unapproved()
    assert newest not in waiting
    assert len(waiting) == 30
    assert VISIT not in waiting


def test_a_letter_is_safe_on_disk_and_dropped_when_over(sheetbook: Sheetbook, folder: Path) -> None:
    """Spooled whole; dropping it twice is harmless."""
    sheetbook.spool("x.eml", b"From: a\r\n")
    sheetbook.keep(VISIT, FIRST, b"%PDF", 5)
    record = sheetbook.note(VISIT, FIRST, {"state": "queued", "at": 7, "reason": None}, {"spool": "x.eml"})
    assert sheetbook.letter(record) == b"From: a\r\n"
    sheetbook.unspool(record)
    sheetbook.unspool(record)
    assert not (folder / "spool" / "x.eml").exists()


def test_an_unknown_sheet_is_named(sheetbook: Sheetbook) -> None:
    """Asking for a sheet that is not kept is an error with its code."""
    with pytest.raises(UnknownSheet) as unknown:
        sheetbook.record(VISIT, FIRST)
    assert unknown.value.code == "unknown_sheet"


def test_a_damaged_page_is_said_and_not_overwritten(sheetbook: Sheetbook, folder: Path) -> None:
    """What was sent must not be forgotten by starting an empty page over a damaged one."""
    sheetbook.keep(VISIT, FIRST, b"%PDF", 5)
    (page,) = (folder / "sheetbook").glob("????-??-??.json")
    page.write_bytes(b"{torn")
    with pytest.raises(Unreadable):
        sheetbook.keep(VISIT, SECOND, b"%PDF", 6)
    assert page.read_bytes() == b"{torn"
