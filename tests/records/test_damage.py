"""Damage: one flipped bit, files that can't be read, a folder that was copied while in use.

In each case the desk starts, names it, works around it, and accepts again what the phones still have.
"""

from __future__ import annotations

import json
import random
import shutil
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from server.tasks.books import day_page, ledger
from server.tasks.evening import look, make_sheets
from sync.kernel import fold
from sync.records.logbook import Logbook
from sync.records.receipts import receipts
from sync.records.sheet_records import SheetRecords
from sync.records.store.interface import Record
from sync.work.backup import back_up
from sync.work.changes import changes
from sync.work.customer_export import export
from sync.work.erasure import ErasureUnfinished, erase
from sync.work.intake import receive
from sync.work.rebuild import rebuild
from sync.work.restore import verify
from sync.work.troubles import troubles
from tests.records.test_logbook import one_visit
from tests.support.folders import records_at
from tests.support.ops import JUNE_12, Phone, body_of, line_of
from tests.work.test_erasure import Town, traces

Books = dict[str, Any]
DAY = date(2026, 6, 12)
SEEDS = [*range(8), *(pytest.param(seed, marks=pytest.mark.long) for seed in range(8, 24))]


class Desk:
    """A closed folder with two customers' visits, cards and sheets from two phones, and what was sent and filed."""

    def __init__(self, folder: Path, rulebook: Books) -> None:
        self.folder, self.rulebook = folder, rulebook
        with Logbook(folder, rulebook, floor_bytes=0) as logbook:
            town = Town(logbook)
            phone, lund = town.phones[0], town.lund[1]
            town.send(phone.beside("vehicle.set", {"/year": None}, id="v-9", year=2016),
                      phone.beside("customer.set", {"/phone": None}, id="c-9", phone="555-0188"),
                      phone.beside("baseline.mark", vehicle="v-9", visit=lund, test="b1", healthy=True))
            # One builds on another, and one conflicts.
            plate = next(op for op in town.sent if op["visit"] == lund and op["kind"] == "visit.set")
            town.send(phone.plate(lund, "ALD 4128", plate["id"]), town.phones[1].plate(lund, "ALD 4129", plate["id"]))
            self.ops, self.visits = town.sent, [*town.okafor, *town.lund]
            self.records = list(logbook.store.records())
            self.folded = {visit: logbook.visit(visit) for visit in self.visits}

    def opened(self, folder: Path) -> Logbook:
        """The logbook over a copy of the folder."""
        return Logbook(folder, self.rulebook, floor_bytes=0)

    def send_again(self, logbook: Logbook) -> dict[str, Any]:
        """Each phone hands in its own lines, one after another; returns the answers by id."""
        return {op["id"]: receive(logbook, line_of(op), JUNE_12, op["device"])["results"][0] for op in self.ops}


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, rulebook: Books) -> Desk:
    """One for the tests of this file, each of which works on a copy."""
    return Desk(tmp_path_factory.mktemp("desk") / "layby", rulebook)


@pytest.fixture
def copy(desk: Desk, folder: Path) -> Path:
    """A copy of the folder."""
    shutil.copytree(desk.folder, folder)
    return folder


def flip(path: Path, first: int, end: int, dice: random.Random) -> bytes:
    """Flip one bit of a stretch of a file; returns the stretch as it is then."""
    content = bytearray(path.read_bytes())
    content[dice.randrange(first, end)] ^= 1 << dice.randrange(8)
    path.write_bytes(content)
    return bytes(content[first:end])


def everything_works(desk: Desk, logbook: Logbook, place: Path) -> None:
    """Evening, books, export, changes, backup: each finishes."""
    sheets = SheetRecords(logbook)
    look(logbook, sheets, DAY, desk.rulebook)
    day_page(logbook, DAY)
    ledger(logbook, DAY, DAY)
    export(logbook, "M. Okafor", place / "export.zip", JUNE_12)
    for device in ("a1de", "b0b0"):
        changes(logbook, device, "")
    made = back_up(logbook, place / "backup.zip", JUNE_12)
    assert made["damaged"] == len(logbook.store.damage)
    assert verify(place / "backup.zip").keys() >= {"journal.log"}
    for visit in desk.visits:
        assert len(sheets.records(visit)) <= 1


def lost_op(desk: Desk, record: Record) -> dict[str, Any] | None:
    """The operation of a record; None for a note of the desk's."""
    return next((op for op in desk.ops if op["id"] == record.result["id"]), None)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_flipped_bit_costs_one_record_until_its_phone_brings_it_again(
    desk: Desk, copy: Path, tmp_path: Path, caplog: pytest.LogCaptureFixture, seed: int
) -> None:
    """Named once, promised to nobody, worked around; sent again it is accepted, and the visit is as before."""
    dice = random.Random(seed)
    record = dice.choice(desk.records)
    places = [*records_at(copy), (copy / "journal.log").stat().st_size]
    end = places[places.index(record.number) + 1]
    stretch = flip(copy / "journal.log", record.number, end, dice)
    op = lost_op(desk, record)
    with desk.opened(copy) as logbook:
        logbook.look_through()
        logbook.look_through()
        assert [one for one in caplog.messages if "the journal is damaged" in one] == [
            f"the journal is damaged at byte {record.number}, {end - record.number} bytes long; what follows is sound"]
        assert "trouble_damage" in [one["code"] for one in troubles(logbook)]
        everything_works(desk, logbook, tmp_path)
        listed = [one["id"] for device in ("a1de", "b0b0") for one in receipts(logbook, device, 0)["receipts"]]
        assert sorted(listed) == sorted(one["id"] for one in desk.ops if one is not op)
        answers = desk.send_again(logbook)
        status = {one.result["id"]: one.result["status"] for one in desk.records}
        assert {name: (one["status"], one["repeat"]) for name, one in answers.items()} == {
            one["id"]: (status[one["id"]], one is not op) for one in desk.ops}
        assert {visit: logbook.visit(visit) for visit in desk.visits} == desk.folded
        [aside] = rebuild(logbook, lambda done, of: None)["aside"]
        assert (copy / aside).read_bytes() == stretch
        assert logbook.store.damage == []
    with desk.opened(copy) as logbook:
        assert logbook.look_through()
        assert logbook.store.damage == []
        assert {one["code"] for one in troubles(logbook)} == {"trouble_lost", "trouble_aside"}
        assert {one["repeat"] for one in desk.send_again(logbook).values()} == {True}
        assert {visit: logbook.visit(visit) for visit in desk.visits} == desk.folded
        everything_works(desk, logbook, tmp_path)
        erase(logbook, "M. Okafor", JUNE_12)
        assert traces(copy) == []


def test_the_evening_prints_in_spite_of_damage(desk: Desk, copy: Path) -> None:
    """A reading is lost from a visit: its sheet is made without it, the others as always."""
    lost = next(one for one in desk.records if (op := lost_op(desk, one)) and op["kind"] == "test.add"
                and op["visit"] == desk.visits[0])
    flip(copy / "journal.log", lost.number + 60, lost.number + 200, random.Random(1))
    with desk.opened(copy) as logbook:
        logbook.look_through()
        rows = make_sheets(logbook, SheetRecords(logbook), DAY, desk.rulebook)
        assert {row["visit"] for row in rows} == set(logbook.visits_on(DAY))
        assert desk.visits[0] in {row["visit"] for row in rows}


def test_either_note_of_an_erasure_is_enough(desk: Desk, copy: Path) -> None:
    """One of the two is damaged and given up: what was erased stays known."""
    with desk.opened(copy) as logbook:
        erase(logbook, "M. Okafor", JUNE_12)
        notes = [one for one in logbook.store.records() if b'"kind":"erasure"' in one.line]
    assert len(notes) == 2
    for number, note in enumerate(notes):
        half = copy.with_name(f"half-{number}")
        shutil.copytree(copy, half)
        flip(half / "journal.log", note.number + 60, note.number + 200, random.Random(2))
        shutil.rmtree(half / "pages")
        with desk.opened(half) as logbook:
            rebuild(logbook, lambda done, of: None)
            assert len(logbook.erased.erasures) == 1
            assert {one["repeat"] for one in desk.send_again(logbook).values()} == {True}
            assert traces(half) == []


# Files beside the journal --------------------------------------------------------------------------------------------


def grown(folder: Path, desk: Desk, number: int) -> str:
    """File a visit that the desk didn't have before; returns its id."""
    with desk.opened(folder) as logbook:
        return one_visit(logbook, JUNE_12 + 1_000 * number, 40 + number)


def test_views_of_a_journal_that_has_grown_otherwise_are_not_believed(desk: Desk, copy: Path, tmp_path: Path) -> None:
    """Copied while in use, the journal first and the views after it; then both desks went on, each in its own way."""
    live = tmp_path / "live"
    shutil.copytree(copy, live)
    first = grown(live, desk, 1)
    for name in ("pages", "checkpoint.json", "journal.proved"):
        shutil.rmtree(copy / name) if name == "pages" else (copy / name).unlink()
        (shutil.copytree if name == "pages" else shutil.copy)(live / name, copy / name)
    other = grown(copy, desk, 2)
    third = grown(copy, desk, 3)
    with desk.opened(copy) as logbook:
        assert logbook.ops(first) == []
        assert [len(logbook.ops(visit)) for visit in (other, third)] == [3, 3]
        assert {one["repeat"] for one in desk.send_again(logbook).values()} == {True}
        assert {visit: logbook.visit(visit) for visit in desk.visits} == desk.folded
        assert one_visit(logbook, JUNE_12 + 1_000, 41) == first


GARBAGE = {"cut": b'{"erasure": {"cur', "garbage": b"\xff\x00", "a list": b"[1, 2]", "a number": b"7",
           "wrong types": json.dumps({"erasure": [], "records": ["x"], "pages": 4, "photos": None, "days": {},
                                      "marks": 1, "hashes": 2}).encode(),
           "a wrong record": json.dumps({"erasure": {"cursor": "x", "at": None, "visits": 5, "customers": 1,
                                                     "vehicles": 1, "devices": 1, "entries": "", "photos": ""},
                                         "records": [1], "pages": ["days/2026-06-12"], "photos": [], "days": [],
                                         "marks": [], "hashes": []}).encode(),
           "names of files": json.dumps({"erasure": {"cursor": 1, "at": 1, "visits": ["*"], "customers": [],
                                                     "vehicles": [], "devices": [], "entries": 0, "photos": 0},
                                         "records": [], "pages": [], "photos": ["../x"], "days": [],
                                         "marks": [], "hashes": []}).encode(),
           "nested": b"[" * 100_000, "empty": b""}
FILES = ("erasure-under-way.json", "checkpoint.json", "journal.proved", "pages/days/2026-06-12.json",
         "pages/months/2026-06.json", "pages/erased/all.json", "pages/underway/all.json")


@pytest.mark.parametrize(("name", "what"), [
    *((FILES[0], what) for what in (*GARBAGE, "a folder")),
    *((name, what) for name in FILES[1:] for what in ("garbage", "wrong types", "a folder")),
])
def test_a_file_that_cannot_be_read_is_worked_round(
    desk: Desk, copy: Path, tmp_path: Path, name: str, what: str
) -> None:
    """Set aside if it was somebody's word or a view, otherwise made again; everything else works."""
    path = copy / name
    path.parent.mkdir(exist_ok=True)
    path.unlink(missing_ok=True)
    if what == "a folder":
        path.mkdir()
    else:
        path.write_bytes(GARBAGE[what])
    for start in range(2):
        with desk.opened(copy) as logbook:
            assert logbook.store.refusal is None
            assert {one["repeat"] for one in desk.send_again(logbook).values()} == {True}
            assert {visit: logbook.visit(visit) for visit in desk.visits} == desk.folded
            assert logbook.search.find("LT 482")["visits"]
            assert len(SheetRecords(logbook).underway()) == 5
            assert logbook.erased.erasures == []
            if not start:
                everything_works(desk, logbook, tmp_path)
            is_aside = what == "a folder" or name == FILES[0] or name.startswith("pages")
            assert [one["code"] for one in troubles(logbook)] == (["trouble_aside"] if is_aside else [])
            if is_aside:
                assert str(troubles(logbook)[0]["values"]["files"]).startswith(f"{name}.unreadable-")
    with desk.opened(copy) as logbook:
        rebuild(logbook, lambda done, of: None)
        assert {visit: logbook.visit(visit) for visit in desk.visits} == desk.folded
        # Views that were set aside go with the others that new ones replace.
        assert bool(troubles(logbook)) == (is_aside and not name.startswith("pages"))


@pytest.fixture
def blocked(copy: Path) -> Path:
    """A folder in which a directory stands where the views of a day would be written, so that no erasure can finish."""
    in_the_way = copy / "pages" / "days" / ".2026-06-12.json.new"
    in_the_way.mkdir(parents=True)
    return copy


def test_an_erasure_that_cannot_end_stops_nothing_else(desk: Desk, blocked: Path, tmp_path: Path) -> None:
    """It says so; start, search, filing and backup go on; once nothing is in the way, the next start finishes it."""
    with desk.opened(blocked) as logbook, pytest.raises(ErasureUnfinished):
        erase(logbook, "M. Okafor", JUNE_12)
    with desk.opened(blocked) as logbook:
        assert "trouble_erasure" in [one["code"] for one in troubles(logbook)]
        assert [row["id"] for row in logbook.search.find("ALD 4127")["visits"]]
        assert {visit: logbook.visit(visit) for visit in desk.visits[3:]} == {
            visit: desk.folded[visit] for visit in desk.visits[3:]}
        new = Phone("cafe", JUNE_12 + 400_000_000)
        [answer] = receive(logbook, body_of(new.opening(new.new_id())), JUNE_12)["results"]
        assert answer["status"] == "accepted"
        assert back_up(logbook, tmp_path / "backup.zip", JUNE_12)["damaged"] == 0
        rebuild(logbook, lambda done, of: None)
        assert logbook.visit(desk.visits[3]) == desk.folded[desk.visits[3]]
    if (blocked / "pages" / "days" / ".2026-06-12.json.new").is_dir():
        (blocked / "pages" / "days" / ".2026-06-12.json.new").rmdir()
    with desk.opened(blocked) as logbook:
        assert troubles(logbook) == []
        assert [logbook.ops(visit) for visit in desk.visits[:3]] == [[], [], []]
        assert {one["repeat"] for one in desk.send_again(logbook).values()} == {True}
    assert traces(blocked) == []


def test_fold_knows_no_order(desk: Desk) -> None:
    """What the other tests compare with: a visit is its operations, in any order."""
    visit = desk.visits[4]
    ops = [op for op in desk.ops if op["visit"] == visit]
    with desk.opened(desk.folder) as logbook:
        assert fold.fold(ops[::-1], logbook.kinds) == desk.folded[visit]
