"""The contract of a store and its views, checked on every store; and the logbook's main work over each of them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

import psycopg
import pytest

from sync.kernel import fold
from sync.records.embedded.store import EmbeddedStore
from sync.records.logbook import Logbook
from sync.records.postgres.database import Database
from sync.records.postgres.store import PostgresStore
from sync.records.receipts import receipts
from sync.records.store.interface import (
    NONE,
    START,
    Entry,
    ForeignView,
    Mark,
    Record,
    RecordDamaged,
    Store,
    StoredView,
)
from sync.work.changes import changes
from sync.work.erasure import erase
from sync.work.intake import receive
from sync.work.rebuild import rebuild
from sync.work.troubles import troubles
from tests.support.ops import JUNE_12, Phone, body_of
from tests.support.plain_store import PlainStore, PlainViews
from tests.support.postgres import server

Books = dict[str, Any]
ZEROS = "0" * 8


class Kind(Protocol):
    """A kind of store for a test: opened as often as needed, damaged while it is open."""

    def open(self) -> Store:
        """The store, as it was when it was closed."""

    def damage(self, number: int) -> None:
        """Make a record unreadable."""

    def spoil_view(self, name: str) -> None:
        """Make a view unreadable."""


class Embedded:
    """The desk's own, in a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def open(self) -> Store:
        """Open the folder."""
        return EmbeddedStore(self.folder, floor_bytes=0)

    def damage(self, number: int) -> None:
        """One bit after the record's head."""
        with (self.folder / "journal.log").open("r+b") as file:
            file.seek(number + 30)
            [byte] = file.read(1)
            file.seek(number + 30)
            file.write(bytes([byte ^ 4]))

    def spoil_view(self, name: str) -> None:
        """Another file in its place."""
        (self.folder / "pages" / f"{name}.json").write_bytes(b"{")


class Plain:
    """The plain one, in memory."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir()
        self.store = PlainStore()

    def open(self) -> Store:
        """The same."""
        return self.store

    def damage(self, number: int) -> None:
        """The record is broken."""
        self.store.broken.add(number)

    def spoil_view(self, name: str) -> None:
        """Nothing of it is left."""
        assert isinstance(self.store.views, PlainViews)
        self.store.views.content[name] = None


class Postgres:
    """The one of several services, in a database of its own on a real server."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir()
        self.url = server().fresh()

    def open(self) -> Store:
        """The same database, over new connections."""
        return PostgresStore(Database(self.url))

    def damage(self, number: int) -> None:
        """One byte of its line."""
        with psycopg.connect(self.url) as connection:
            connection.execute("UPDATE records SET line = set_byte(line, 5, 0) WHERE number = %s", (number,))

    def spoil_view(self, name: str) -> None:
        """Something else in its place."""
        with psycopg.connect(self.url) as connection:
            connection.execute("UPDATE views SET tables = '{' WHERE name = %s", (name,))


@pytest.fixture(params=[Embedded, Plain, Postgres], ids=["embedded", "plain", "postgres"])
def kind(request: pytest.FixtureRequest, folder: Path) -> Kind:
    """Each kind of store in turn."""
    made: Kind = request.param(folder)
    return made


def entries(*numbers: int) -> list[Entry]:
    """Future records; their lines contain what could be mistaken for a frame, and any text."""
    return [
        Entry(1_000 + number, {"id": f"id-{number}", "status": "accepted", "digest": "ÄÖ ü"},
              b"%d op \n12 0123abcd line " % number + b"as long as an entry is, " * 6)
        for number in numbers
    ]


def reopened(kind: Kind, store: Store) -> Store:
    """The store after an end and a start that reads all."""
    store.close(clean=True)
    again = kind.open()
    list(again.records())
    again.settle_end()
    return again


# Records -------------------------------------------------------------------------------------------------------------


def test_an_empty_store_says_so(kind: Kind) -> None:
    """No record, no damage, nothing refused."""
    store = kind.open()
    assert (store.last, list(store.records()), store.damage, store.aside, store.refusal) == (NONE, [], [], [], None)
    assert store.append([]) == []
    assert store.stretch > 0
    store.close(clean=True)


def test_what_was_appended_reads_back(kind: Kind) -> None:
    """In order, under growing numbers, by its number and by the one before, now and after a start."""
    store = kind.open()
    records = store.append(entries(1, 2)) + store.append(entries(3))
    for _ in range(2):
        assert [(one.received_ms, one.result, one.line) for one in store.records()] == [*entries(1, 2, 3)]
        assert [one.number for one in records] == sorted({one.number for one in records})
        assert records[0].number >= 0
        assert list(store.records()) == records == [store.read(one.number) for one in records]
        assert list(store.records(records[0].number)) == records[1:]
        assert list(store.records(records[2].number)) == []
        assert store.last == records[2].number
        assert [store.check_of(one.number) for one in records] == [one.check for one in records]
        assert len({one.check for one in records}) == 3
        assert records[1].mark == Mark(records[1].number, records[1].check)
        store = reopened(kind, store)
    store.close(clean=True)


def test_a_number_that_no_record_bears_is_none(kind: Kind) -> None:
    """Before the first, between two, after the last."""
    store = kind.open()
    first, second = store.append(entries(1, 2))
    for number in (-1, second.number + 1_000_000, *({first.number + 1} - {second.number})):
        with pytest.raises(RecordDamaged):
            store.read(number)
    assert store.check_of(second.number + 1_000_000) == store.check_of(-1) == ZEROS
    store.close(clean=True)


def test_a_reader_comes_to_what_is_appended_meanwhile(kind: Kind) -> None:
    """And is told how far it is, never beyond the end."""
    store, seen, steps = kind.open(), list[Record](), list[tuple[int, int]]()
    store.append(entries(1, 2))
    for record in store.records(watch=lambda done, of: steps.append((done, of))):
        seen.append(record)
        if len(seen) < 4:
            store.append(entries(10 + len(seen)))
    assert [one.received_ms - 1_000 for one in seen] == [1, 2, 11, 12, 13]
    assert steps == sorted(steps)
    assert all(done <= of for done, of in steps)
    store.close(clean=True)


def test_damage_costs_the_record_alone_and_is_named(kind: Kind) -> None:
    """Once a reader came upon it; its neighbours are intact, and appending goes on."""
    store = kind.open()
    first, second, third = store.append(entries(1, 2, 3))
    kind.damage(second.number)
    with pytest.raises(RecordDamaged):
        store.read(second.number)
    assert list(store.records()) == [first, third]
    [stretch] = store.damage
    assert (second.number in stretch, first.number in stretch, third.number in stretch) == (True, False, False)
    [fourth] = store.append(entries(4))
    store = reopened(kind, store)
    assert list(store.records()) == [first, third, fourth]
    assert store.damage == [stretch]
    store.close(clean=True)


def test_a_blank_keeps_number_and_check_and_nothing_else(kind: Kind) -> None:
    """Erased: its line and its answer are gone, marks that noted it still recognise it, the others are the same."""
    store = kind.open()
    first, second, third = store.append(entries(1, 2, 3))
    store.check_room()
    store.blank([second.number])
    for _ in range(2):
        blank = store.read(second.number)
        assert (blank.number, blank.check, blank.result["status"], blank.result["id"]) == (
            second.number, second.check, "erased", None)
        assert b"op" not in blank.line
        assert list(store.records()) == [first, blank, third]
        assert (store.check_of(second.number), store.last, store.damage) == (second.check, third.number, [])
        store = reopened(kind, store)
    store.blank([second.number])
    assert store.read(second.number) == blank
    store.close(clean=True)


def test_what_is_given_up_is_aside_and_a_blank_stands_for_it(kind: Kind) -> None:
    """Nothing is damaged any more; the loss stays known."""
    store = kind.open()
    first, second, third = store.append(entries(1, 2, 3))
    kind.damage(second.number)
    list(store.records())
    names = store.give_up()
    assert names == store.aside
    assert len(names) == 1
    for _ in range(2):
        assert [one.result["status"] for one in store.records()] == ["accepted", "lost", "accepted"]
        assert [one for one in store.records() if one.result["status"] != "lost"] == [first, third]
        assert store.damage == []
        store = reopened(kind, store)
    assert store.give_up() == []
    store.close(clean=True)


# Views ---------------------------------------------------------------------------------------------------------------


def view(number: int, **rows: Any) -> StoredView:
    """A view of one table."""
    return StoredView(Mark(number, "0123abcd"), {"rows": rows})


def test_a_view_is_kept_whole_and_apart_from_the_one_in_memory(kind: Kind) -> None:
    """Read back as it was written; named by folder, in order; replaced whole."""
    store = kind.open()
    views = store.views
    content = view(4, b={"x": [1, None, "ü"]}, a={"x": []})
    assert views.read("days/2026-06-12") is None
    views.write("days/2026-06-12", content)
    views.write("days/2026-06-11", view(5))
    views.write("changes/a1de/000000000000", view(6))
    content.tables["rows"]["b"]["x"] = "changed later"
    stored = views.read("days/2026-06-12")
    assert stored == view(4, b={"x": [1, None, "ü"]}, a={"x": []})
    assert stored is not None
    assert list(stored.tables["rows"]) == ["b", "a"]
    assert views.names("days") == ["days/2026-06-11", "days/2026-06-12"]
    assert (views.names("changes"), views.names("changes/a1de")) == ([], ["changes/a1de/000000000000"])
    assert views.count() == 3
    views.write("days/2026-06-12", view(7, c={}))
    assert (views.read("days/2026-06-12"), views.count()) == (view(7, c={}), 3)
    store.close(clean=True)


def test_how_far_all_views_reach_is_noted_and_forgotten(kind: Kind) -> None:
    """START until it is noted, and again once it is forgotten; kept over a start."""
    store = kind.open()
    assert store.views.complete() == START
    store.views.set_complete(Mark(4, "0123abcd"))
    assert store.views.complete() == Mark(4, "0123abcd")
    store = reopened(kind, store)
    assert store.views.complete() == Mark(4, "0123abcd")
    store.views.forget_complete()
    store.views.forget_complete()
    assert store.views.complete() == START
    assert reopened(kind, store).views.complete() == START


def test_a_view_that_cannot_be_read_is_said_once_and_the_rest_is_no_more_complete(kind: Kind) -> None:
    """Set aside: afterwards there is none of that name."""
    store = kind.open()
    store.views.write("days/2026-06-12", view(4))
    store.views.set_complete(Mark(4, "0123abcd"))
    kind.spoil_view("days/2026-06-12")
    with pytest.raises(ForeignView):
        store.views.read("days/2026-06-12")
    assert store.views.complete() == START
    assert store.views.read("days/2026-06-12") is None
    store.close(clean=True)


def test_views_filled_beside_take_the_place_of_all(kind: Kind) -> None:
    """What isn't among them is gone; what was half filled before doesn't become part of the next ones."""
    store = kind.open()
    store.views.write("days/2026-06-11", view(4))
    store.scratch_views().write("days/2026-06-10", view(3))
    beside = store.scratch_views()
    assert (beside.count(), beside.complete()) == (0, START)
    beside.write("days/2026-06-12", view(5))
    assert store.views.names("days") == ["days/2026-06-11"]
    store.adopt(beside)
    for _ in range(2):
        assert store.views.names("days") == ["days/2026-06-12"]
        assert store.views.count() == 1
        assert store.views.read("days/2026-06-12") == view(5)
        store = reopened(kind, store)
    store.close(clean=True)


# The logbook over each -----------------------------------------------------------------------------------------------


@pytest.fixture
def opened(kind: Kind, folder: Path, rulebook: Books) -> Callable[[], Logbook]:
    """Opens the logbook over the store."""
    return lambda: Logbook(folder, rulebook, floor_bytes=0, open_store=kind.open)


class Town:
    """Two phones in one visit of a customer, and a visit of another customer; everything they sent."""

    def __init__(self) -> None:
        self.van, self.truck = Phone("a1de"), Phone("b0b0", JUNE_12 + 90_000_000)
        self.okafor, self.lund = self.van.new_id(), self.van.new_id()
        self.ops: list[dict[str, Any]] = []
        for visit, name, plate in ((self.okafor, "M. Okafor", "LT 482"), (self.lund, "S. Lund", "ALD 4127")):
            customer = self.van.op(visit, "visit.set", {"customer": {"name": name}}, {"/customer/name": None})
            self.ops += [self.van.opening(visit), customer, self.van.plate(visit, plate),
                         self.truck.test(visit, "t1", vent_c=9.5)]

    def send(self, logbook: Logbook) -> list[Any]:
        """Each phone sends its own lines, one after another; returns the answers."""
        return [receive(logbook, body_of(op), JUNE_12, op["device"])["results"][0] for op in self.ops]


def test_the_logbook_files_and_finds(opened: Callable[[], Logbook]) -> None:
    """Filed, answered as repeats, found, listed, told; the same after a start, and after all views were made again."""
    town = Town()
    with opened() as logbook:
        assert [(one["status"], one["repeat"]) for one in town.send(logbook)] == [("accepted", False)] * 8
    for again in range(2):
        with opened() as logbook:
            assert [(one["status"], one["repeat"]) for one in town.send(logbook)] == [("accepted", True)] * 8
            assert logbook.visit(town.lund) == fold.fold(town.ops[4:], logbook.kinds)
            assert [row["id"] for row in logbook.search.find("ald4127")["visits"]] == [town.lund]
            assert [one["id"] for one in receipts(logbook, "b0b0", 0)["receipts"]] == [town.ops[3]["id"],
                                                                                       town.ops[7]["id"]]
            told = changes(logbook, "b0b0", "")
            assert [one["kind"] for one in told["changes"]] == ["op"] * 6
            assert changes(logbook, "b0b0", told["cursor"])["changes"] == []
            assert troubles(logbook) == []
            if not again:
                assert rebuild(logbook, lambda done, of: None)["aside"] == []


def test_the_logbook_erases(opened: Callable[[], Logbook]) -> None:
    """One customer goes, from the records too; the other stays; what comes again isn't taken in."""
    town = Town()
    with opened() as logbook:
        town.send(logbook)
        cursor = changes(logbook, "b0b0", "")["cursor"]
        assert erase(logbook, "M. Okafor", JUNE_12) == {"visits": 1, "entries": 4, "photos": 0}
        assert [one["kind"] for one in changes(logbook, "b0b0", cursor)["changes"]] == ["erased"]
    for _ in range(2):
        with opened() as logbook:
            assert not any(b"Okafor" in record.line for record in logbook.store.records())
            assert [one["repeat"] for one in town.send(logbook)] == [True] * 8
            assert (logbook.ops(town.okafor), len(logbook.ops(town.lund))) == ([], 4)
            rebuild(logbook, lambda done, of: None)


def test_the_logbook_works_round_damage_and_takes_the_record_again(
    opened: Callable[[], Logbook], kind: Kind
) -> None:
    """It is named once, no receipt promises it, its phone brings it, the visit is as before; then it is given up."""
    town = Town()
    with opened() as logbook:
        town.send(logbook)
        before = logbook.visit(town.lund)
        lost = logbook.visit_heads(town.lund)["ops"][2]  # type: ignore[index]
        kind.damage(lost["number"])
        assert logbook.look_through()
        assert len(logbook.store.damage) == 1
        assert lost["id"] not in [one["id"] for one in receipts(logbook, "a1de", 0)["receipts"]]
        assert [(one["status"], one["repeat"]) for one in town.send(logbook)] == [
            ("accepted", number != 6) for number in range(8)]
        assert logbook.visit(town.lund) == before
        assert len(rebuild(logbook, lambda done, of: None)["aside"]) == 1
        assert logbook.store.damage == []
        assert logbook.visit(town.lund) == before
        assert [one["code"] for one in troubles(logbook)] == ["trouble_lost", "trouble_aside"]
    with opened() as logbook:
        assert logbook.visit(town.lund) == before
        assert {one["repeat"] for one in town.send(logbook)} == {True}
