"""Ids and times outside the calendar: refused with a sentence; no harm if an earlier version accepted one.

A UUID version 7 has 48 bits of milliseconds (RFC 9562, section 5.7), up to the year 10889; a date ends with 9999 (ISO
8601-1:2019, four digits of a year). The instants below are worked out by hand from the days of 9,999 years.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from server.tasks import evening
from server.tasks.reminders import reminders
from sync.records.embedded.framing import framed
from sync.records.logbook import Logbook
from sync.records.sheet_record import state_of
from sync.records.sheet_records import SheetRecords
from sync.records.store.interface import Entry
from sync.wire.op_line import parts, split
from sync.wire.schemas import check_op
from sync.work import backup, customer_export, erasure, rebuild, restore
from sync.work.intake import receive
from tests.server.test_evening import DAY, NOW, Desk
from tests.support.ops import Phone, body_of, line_of, uuid7
from tests.support.sheet_visits import PAIR, SINGLE, operations

Books = dict[str, Any]

# Days from 0001-01-01 to 10000-01-01 are 9999 x 365 + 2424 leap days, to 1970-01-01 1969 x 365 + 477 (Gregorian rule).
DAY_MS = 86_400_000
LAST = (9999 * 365 + 2424 - 1969 * 365 - 477) * DAY_MS - 1
FIRST = -(1969 * 365 + 477) * DAY_MS
SIXTEEN_F = (1 << 48) - 1
SENTENCE = (
    "This date is outside the years 1 to 9999: {}. Set the clock of that device and make the entry again."
)


@pytest.fixture
def logbook(folder: Path, rulebook: Books) -> Iterator[Logbook]:
    """An empty logbook, open."""
    with Logbook(folder, rulebook, floor_bytes=0) as opened:
        yield opened


def opening(**changes: Any) -> dict[str, Any]:
    """A valid opening of a visit, with something else in it."""
    phone = Phone()
    return {**phone.opening(phone.new_id()), **changes}


STRANGE: dict[str, tuple[dict[str, Any], str, Any]] = {
    "an op's id, a millisecond late": (opening(id=uuid7(LAST + 1, 7)), "/id", uuid7(LAST + 1, 7)),
    "an op's id, the last there is": (opening(id=uuid7(SIXTEEN_F, 7)), "/id", uuid7(SIXTEEN_F, 7)),
    "a visit's id": (opening(visit=uuid7(LAST + 1, 7)), "/visit", uuid7(LAST + 1, 7)),
    "a clock, a millisecond late": (opening(at=LAST + 1, tz=0), "/at", LAST + 1),
    "a clock as far as numbers go": (opening(at=2**53, tz=0), "/at", 2**53),
    "a clock before the year 1": (opening(at=FIRST - 1, tz=0), "/at", FIRST - 1),
    "late where it was written": (opening(at=LAST, tz=1), "/tz", 1),
    "early where it was written": (opening(at=FIRST, tz=-1), "/tz", -1),
    "an offset of millennia": (opening(tz=2**53), "/tz", 2**53),
    "a start that is late in UTC": (
        opening(body={"started_at": "9999-12-31T23:59:59-00:01"}), "/body/started_at", "9999-12-31T23:59:59-00:01"),
    "a start that is early in UTC": (
        opening(body={"started_at": "0001-01-01T00:00:00+14:00"}), "/body/started_at", "0001-01-01T00:00:00+14:00"),
}


@pytest.mark.parametrize("what", STRANGE)
def test_what_the_calendar_does_not_hold_is_a_fault_of_shape(logbook: Logbook, what: str) -> None:
    """Refused with where and what to do, kept in quarantine under its line, answered the same when it comes again."""
    op, pointer, value = STRANGE[what]
    for repeat in (False, True):
        [result] = receive(logbook, line_of(op), 5)["results"]
        assert (result["status"], result["repeat"]) == ("rejected", repeat)
        assert result["problem"]["code"] == "shape"
        detail = SENTENCE.format(json.dumps(value))
        fault = {"pointer": pointer, "code": "beyond_calendar", "detail": detail, "value": value}
        assert result["problem"]["errors"] == [fault]
    assert line_of(op).rstrip(b"\n") in (logbook.folder / "journal.log").read_bytes()
    assert logbook.ops(op["visit"]) == []


@pytest.mark.parametrize("at", [LAST, FIRST])
def test_the_ends_of_the_calendar_are_taken(logbook: Logbook, at: int) -> None:
    """The last and the first millisecond of it."""
    ends = {"id": uuid7(LAST, 1), "visit": uuid7(LAST, 2)} if at > 0 else {}
    [result] = receive(logbook, line_of(opening(at=at, tz=0, **ends)), 5)["results"]
    assert result["status"] == "accepted"


def test_an_item_is_added_under_an_id_that_the_calendar_holds(rulebook: Books) -> None:
    """If it is a UUID; b1 isn't. Operations may name anything already on file."""
    phone = Phone()
    visit, far = phone.new_id(), uuid7(LAST + 1, 9)

    def codes(op: dict[str, Any]) -> list[tuple[str, str]]:
        return [(fault["pointer"], fault["code"]) for fault in check_op(op, rulebook)]

    assert codes(phone.test(visit, far, vent_c=7.5)) == [("/body/id", "beyond_calendar")]
    assert codes(phone.test(visit, uuid7(LAST, 9), vent_c=7.5)) == []
    assert codes(phone.test(visit, "b1", vent_c=7.5)) == []
    assert codes(phone.op(visit, "item.strike", {"list": "tests", "id": far})) == []
    later = phone.op(visit, "visit.set", {"complaint": "warm"}, {"/complaint": far})
    assert codes(later) == []


# A folder from before -------------------------------------------------------------------------------------------------

FAR = {**copy.deepcopy(PAIR), "id": uuid7(LAST + 1, 1)}
FARTHEST = {**copy.deepcopy(SINGLE), "id": uuid7(SIXTEEN_F, 2), "started_at": PAIR["started_at"],
            "customer": {"name": "F. Example", "email": "f@mail.example"}}


def from_before(folder: Path, body: bytes) -> None:
    """A journal as an earlier version wrote it, before the calendar was checked."""
    folder.mkdir()
    records = []
    for line in split(body):
        digest, json_bytes = parts(line)
        op_id = json_bytes.split(b'"id": "', 1)[1][:36].decode()
        records.append(framed(Entry(NOW, {"id": op_id, "status": "accepted", "digest": digest}, line)))
    (folder / "journal.log").write_bytes(b"".join(records))


@pytest.fixture
def old(folder: Path, rulebook: Books) -> Iterator[Desk]:
    """A folder from before: two visits outside the calendar, from a phone whose clock was; and an ordinary one."""
    far = Phone("beef", LAST + 5)
    from_before(folder, operations(FAR, far) + operations(FARTHEST, far) + operations(PAIR, Phone()))
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        yield Desk(logbook, rulebook)


def test_an_old_visit_beyond_the_calendar_has_its_evening(old: Desk) -> None:
    """Listed, printed, approved and sent or left like any other, with the sheets on views of their own."""
    rows = old.make()
    assert [row["state"] for row in rows] == ["made"] * 3, rows
    assert {row["visit"] for row in rows} == {FAR["id"], FARTHEST["id"], PAIR["id"]}
    assert [row["state"] for row in old.approve(FAR["id"], FARTHEST["id"])] == ["approved"] * 2
    assert "sheets/2026-07-14" in old.logbook.view_names("sheets")
    assert len(old.logbook.view_names("sheets")) == 3
    assert set(old.sheet_records.unapproved()) == {PAIR["id"]}
    old.settings(**{"from": "office@aldercoast.example"})
    old.send()
    assert old.state(FAR) == old.state(FARTHEST) == "sent"
    assert [row["state"] for row in evening.look(old.logbook, old.sheet_records, DAY, old.rulebook)].count("sent") == 2
    assert all(reminder["code"] for reminder in reminders(old.logbook, old.sheet_records, DAY, old.rulebook))


def test_an_old_visit_beyond_the_calendar_can_be_corrected(old: Desk) -> None:
    """It is on file, so what a phone still writes for it is accepted; a new one of its kind isn't."""
    phone = Phone("cafe")
    more = phone.op(FAR["id"], "advice.add", {"id": "x1", "text": "Change the filter."})
    new = phone.opening(uuid7(LAST + 1, 77))
    results = receive(old.logbook, body_of(more, new), NOW)["results"]
    assert [result["status"] for result in results] == ["accepted", "rejected"]
    assert "Change the filter." in [one["text"] for one in old.logbook.visit(FAR["id"])["advice"]]


def test_an_old_visit_beyond_the_calendar_is_found_exported_backed_up_and_made_again(
    old: Desk, tmp_path: Path, rulebook: Books
) -> None:
    """Whatever is done with records."""
    assert [row["id"] for row in old.logbook.search.find("F. Example")["visits"]] == [FARTHEST["id"]]
    told = customer_export.export(old.logbook, "F. Example", tmp_path / "export.zip", NOW)
    assert [row["visit"] for row in told["visits"]] == [FARTHEST["id"]]
    before = [old.logbook.visit(visit["id"]) for visit in (FAR, FARTHEST, PAIR)]
    backup.back_up(old.logbook, tmp_path / "backup.zip", NOW)
    rebuild.rebuild(old.logbook, lambda _done, _of: None)
    assert [old.logbook.visit(visit["id"]) for visit in (FAR, FARTHEST, PAIR)] == before
    restore.restore(tmp_path / "backup.zip", tmp_path / "restored")
    with Logbook(tmp_path / "restored", rulebook, floor_bytes=0) as again:
        assert [again.visit(visit["id"]) for visit in (FAR, FARTHEST, PAIR)] == before
        assert len(again.visits_on(DAY)) == 3


def test_an_old_visit_beyond_the_calendar_is_erased(old: Desk, rulebook: Books) -> None:
    """Nothing of it is left, and the others are as they were."""
    old.make()
    before = old.logbook.visit(PAIR["id"])
    erasure.erase(old.logbook, "F. Example", NOW)
    old.logbook.close()
    with Logbook(old.logbook.folder, rulebook, floor_bytes=0) as again:
        assert again.ops(FARTHEST["id"]) == []
        assert again.visit(PAIR["id"]) == before
        assert SheetRecords(again).records(FARTHEST["id"]) == []
    assert not [path for path in old.logbook.folder.rglob("*") if path.is_file() and b"F. Example" in path.read_bytes()]


def test_a_damaged_view_of_their_sheets_is_made_again(old: Desk, rulebook: Books) -> None:
    """From the notes in the journal, as it was."""
    old.make()
    old.approve(FAR["id"])
    before = old.sheet_records.records(FAR["id"])
    old.logbook.close()
    views = sorted((old.logbook.folder / "pages" / "sheets").glob("day-*.json"))
    assert views
    for view in views:
        view.write_bytes(b"{")
    with Logbook(old.logbook.folder, rulebook, floor_bytes=0) as again:
        assert SheetRecords(again).records(FAR["id"]) == before
        assert [state_of(record) for record in before] == ["approved"]


@pytest.mark.parametrize("day", [date(1, 1, 1), date(1, 1, 5), date(9999, 12, 31)])
def test_reminders_keep_to_the_calendar(logbook: Logbook, rulebook: Books, day: date) -> None:
    """Sixty days before its first day, sixty after its last; a paper that is valid to the end of its last month."""
    visit = {**PAIR, "technician": {**PAIR.get("technician", {}), "certificate_until": "9999-12"},
             "started_at": f"{day.isoformat()}T12:00:00+00:00"}
    receive(logbook, operations(visit, Phone()), NOW)
    found = reminders(logbook, SheetRecords(logbook), day, rulebook)
    assert ("remind_certificate" in [one["code"] for one in found]) == (day.year == 9999)
