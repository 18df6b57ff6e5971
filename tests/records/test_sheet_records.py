"""The sheet records: what was made, approved, queued, sent or failed, kept safely and reported in order."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sync.records.logbook import Logbook
from sync.records.sheet_record import at_of, state_of
from sync.records.sheet_records import SheetRecords, UnknownSheet
from tests.support.ops import uuid7
from tests.support.sheet_visits import STARTED_MS

VISIT, OTHER = uuid7(STARTED_MS, 1), uuid7(STARTED_MS + 86_400_000, 2)
FIRST, SECOND = "a" * 64, "b" * 64
DAY_MS = 86_400_000


@pytest.fixture
def logbook(folder: Path, rulebook: dict[str, Any]) -> Iterator[Logbook]:
    """An empty one."""
    with Logbook(folder, rulebook, floor_bytes=0) as opened:
        yield opened


@pytest.fixture
def sheet_records(logbook: Logbook) -> SheetRecords:
    """Those of the logbook."""
    return SheetRecords(logbook)


def note(sheet_records: SheetRecords, state: str, at: int, revision: str = FIRST, visit: str = VISIT) -> None:
    """Add a state without a reason."""
    sheet_records.note(visit, revision, {"state": state, "at": at, "reason": None})


def test_a_printed_sheet_is_a_file_and_a_record(sheet_records: SheetRecords, folder: Path) -> None:
    """The PDF is stored under its visit and revision; the record says made and when."""
    record = sheet_records.keep(VISIT, FIRST, b"%PDF", 5)
    assert sheet_records.place(record) == str(folder / "sheets" / f"{VISIT}-aaaaaaaaaaaa.pdf")
    assert sheet_records.pdf(record) == b"%PDF"
    assert record["states"] == [{"state": "made", "at": 5, "reason": None}]
    assert record["number"] == 1


def test_every_state_is_kept_with_its_time_and_reason(sheet_records: SheetRecords) -> None:
    """History is added to, never rewritten."""
    sheet_records.keep(VISIT, FIRST, b"%PDF", 5)
    note(sheet_records, "approved", 6)
    note(sheet_records, "queued", 7)
    reason = {"code": "mail_refused", "values": {"said": "550 no"}}
    sheet_records.note(VISIT, FIRST, {"state": "failed", "at": 8, "reason": reason})
    record = sheet_records.record(VISIT, FIRST)
    assert [(entry["state"], entry["at"]) for entry in record["states"]] == [
        ("made", 5), ("approved", 6), ("queued", 7), ("failed", 8)]
    assert record["states"][-1]["reason"] == reason
    assert (state_of(record), at_of(record, "approved"), at_of(record, "sent")) == ("failed", 6, None)


@pytest.mark.parametrize("lost", ["nothing", "views", "a view"])
def test_the_next_process_finds_all_of_it(logbook: Logbook, rulebook: dict[str, Any], lost: str) -> None:
    """What one process wrote, the next one reads; if the views are gone or unreadable, from the journal."""
    before = SheetRecords(logbook)
    before.keep(VISIT, FIRST, b"%PDF", 5)
    note(before, "approved", 6)
    before.handed(6, 0)
    records = before.records(VISIT)
    logbook.close()
    if lost == "views":
        shutil.rmtree(logbook.folder / "pages")
    if lost == "a view":
        (view,) = (logbook.folder / "pages" / "sheets").glob("*.json")
        view.write_bytes(b"{torn")
    with Logbook(logbook.folder, rulebook, floor_bytes=0) as again:
        later = SheetRecords(again)
        assert later.records(VISIT) == records
        assert later.underway() == [(VISIT, FIRST)]
        assert later.handed(None, 0) == [6]


def test_a_changed_visit_has_a_second_revision(sheet_records: SheetRecords) -> None:
    """Numbered on, the older kept; printing the first again keeps its number."""
    sheet_records.keep(VISIT, FIRST, b"%PDF 1", 5)
    sheet_records.keep(VISIT, SECOND, b"%PDF 2", 9)
    made = [(record["revision"], record["number"]) for record in sheet_records.records(VISIT)]
    assert made == [(FIRST, 1), (SECOND, 2)]
    newest = sheet_records.newest(VISIT)
    assert newest is not None
    assert newest["revision"] == SECOND
    assert sheet_records.number_for(VISIT, FIRST) == 1
    assert sheet_records.number_for(VISIT, "c" * 64) == 3


def test_a_sheet_that_never_printed_counts_for_no_number(sheet_records: SheetRecords) -> None:
    """The customer never saw it: the next one is still the first."""
    note(sheet_records, "failed", 4)
    assert sheet_records.newest(VISIT) is None
    assert sheet_records.keep(VISIT, SECOND, b"%PDF", 9)["number"] == 1


def test_only_approved_and_queued_sheets_are_underway(sheet_records: SheetRecords) -> None:
    """The mail doesn't touch what waits for a person or is finished."""
    for visit in (VISIT, OTHER):
        sheet_records.keep(visit, FIRST, b"%PDF", 5)
        note(sheet_records, "approved", 6, visit=visit)
    note(sheet_records, "queued", 7)
    assert set(sheet_records.underway()) == {(VISIT, FIRST), (OTHER, FIRST)}
    note(sheet_records, "sent", 8)
    note(sheet_records, "failed", 8, visit=OTHER)
    assert sheet_records.underway() == []


def test_what_waits_for_approval_is_found(sheet_records: SheetRecords) -> None:
    """Newest sheets in state made, and only among the recent days."""
    for days in range(40):
        sheet_records.keep(uuid7(STARTED_MS + days * DAY_MS, days), FIRST, b"%PDF", 5)
    newest = uuid7(STARTED_MS + 39 * DAY_MS, 39)
    note(sheet_records, "approved", 6, visit=newest)
    waiting = sheet_records.unapproved()
    assert newest not in waiting
    assert len(waiting) == 30
    assert VISIT not in waiting


def test_a_letter_is_safe_on_disk_and_dropped_when_over(sheet_records: SheetRecords, folder: Path) -> None:
    """Spooled whole; dropping it twice is harmless."""
    sheet_records.spool("x.eml", b"From: a\r\n")
    sheet_records.keep(VISIT, FIRST, b"%PDF", 5)
    record = sheet_records.note(VISIT, FIRST, {"state": "queued", "at": 7, "reason": None}, {"spool": "x.eml"})
    assert sheet_records.letter(record) == b"From: a\r\n"
    sheet_records.unspool(record)
    sheet_records.unspool(record)
    assert not (folder / "spool" / "x.eml").exists()


def test_an_unknown_sheet_is_named(sheet_records: SheetRecords) -> None:
    """Asking for a sheet that isn't kept is an error with its code."""
    with pytest.raises(UnknownSheet) as unknown:
        sheet_records.record(VISIT, FIRST)
    assert unknown.value.code == "unknown_sheet"


def test_letters_of_the_last_hour_are_counted_over_midnight(sheet_records: SheetRecords) -> None:
    """Two at the same instant are two; the day before counts too."""
    midnight = 20_000 * DAY_MS
    for at_ms in (midnight - 1800_000, midnight - 1800_000, midnight + 60_000):
        sheet_records.handed(at_ms, at_ms - 3600_000)
    times = [midnight - 1800_000, midnight - 1800_000, midnight + 60_000]
    assert sheet_records.handed(None, midnight + 60_000 - 3600_000) == times
    assert sheet_records.handed(None, midnight - 1800_000) == times[2:]
