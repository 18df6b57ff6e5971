"""The register of a database answers as the search in memory does, and keeps nothing that was erased."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from contextlib import ExitStack
from itertools import groupby
from pathlib import Path
from typing import Any

import psycopg
import pytest

from sync.records.kept_search import KeptSearch
from sync.records.logbook import Logbook
from sync.records.postgres.database import Database, DatabaseAway
from sync.records.postgres.store import PostgresStore
from sync.records.search import Search
from sync.work.erasure import erase
from sync.work.intake import receive
from sync.work.rebuild import rebuild, rebuild_one
from tests.support.ops import JUNE_12, Phone, body_of
from tests.support.postgres import server

Books = dict[str, Any]
DAY_MS = 86_400_000
NAMES = ("M. Okafor", "Ångström & Söhne", "M. Okafor-Lane", "李小龍", "STRASSE 7 GmbH", "straße", "a_b%c \\ d",
         "Two\nLines", "x" * 150 + "end", "O’Hara (Fleet)", "Q\u3000R", None)
PLATES = ("LT 482", "lt-482", "ALD·4127", "7 PB 11", "%_7", "QX\n77", "M\u3000N 5", None)
VINS = ("1G4AH59H45G118341", "1g4 ah59h45g-118342", None)
QUERIES = (
    "", " ", "-", "&", "lt 482", "LT482", "lt-4", "482-", "t48", "82", "okafor", "kafo",
    "OKAFOR 2026-06", "lane okafor", "okafor-lane", "okaforlane", "m. okafor", "lt482 okafor",
    "söhne", "SO\u0308HNE", "strasse", "STRASSE 7", "小", "龍", "2026", "2026-0", "2026-07", "06-12",
    "118341", "g118342", "AH59 H45", "4821G4", "%", "_", "\\", "a_b", "%_7", "two", "lines two",
    "qx77", "n5", "MN5", "x" * 64, "x" * 70, "x" * 151, "xend", "o'hara", "o’hara", "hara fleet",
    "(fleet", "nobody", "1", "1 2 3", "\0", "a\0b", "\udc41", "\U0010ffff", "okafor nobody", "wren",
    "blue",
)  # fmt: skip


def named(phone: Phone, visit: str, chance: random.Random) -> list[dict[str, Any]]:
    """A visit's opening and what it is called."""
    day = f"2026-{chance.randint(6, 8):02d}-{chance.randint(10, 28)}T09:05:00-07:00"
    vehicle = {"plate": chance.choice(PLATES), "vin": chance.choice(VINS), "id": chance.choice(("v-1", "v-2", None)),
               "make": chance.choice(("Wren", "Lark", None)), "model": chance.choice(("blue estate", "Blue  Estate"))}
    customer = {"name": chance.choice(NAMES), "id": chance.choice(("c-1", "c-2", None))}
    body = {part: {name: value for name, value in fields.items() if value is not None}
            for part, fields in (("vehicle", vehicle), ("customer", customer))}
    base: dict[str, str | None] = {f"/{part}/{name}": None for part, fields in body.items() for name in fields}
    return [phone.opening(visit, day), phone.op(visit, "visit.set", body, base)]


def day_of_work(chance: random.Random) -> list[dict[str, Any]]:
    """Sixty visits in three months by two phones, a third of them renamed, and cards in between."""
    phones = [Phone("a1de", JUNE_12), Phone("b0b0", JUNE_12 + 500)]
    ops = []
    for _ in range(60):
        phone = chance.choice(phones)
        phone.ms += chance.randrange(3 * DAY_MS)
        visit = phone.new_id()
        opening, names = named(phone, visit, chance)
        ops += [opening, names]
        if chance.random() < 0.4:
            plate = {"/vehicle/plate": names["id"] if "plate" in names["body"]["vehicle"] else None}
            ops.append(phone.op(visit, "visit.set", {"vehicle": {"plate": chance.choice(PLATES[:-1])}}, plate))
        if chance.random() < 0.2:
            name = {"/customer/name": names["id"] if "name" in names["body"]["customer"] else None}
            ops.append(phone.op(visit, "visit.set", {"customer": {"name": chance.choice(NAMES[:-1])}}, name))
    return ops


def answers(logbook: Logbook) -> dict[str, Any]:
    """Everything that a search can be asked."""
    search = logbook.search
    found: dict[str, Any] = {f"find {text!r}": search.find(text) for text in QUERIES}
    found |= {f"find 3 {text!r}": search.find(text, most=3) for text in QUERIES}
    found |= {f"newest {count}": search.newest(count) for count in (0, 1, 7, 500)}
    for what, names in (("vehicle", ("v-1", "v-2", "nobody's")), ("customer", ("c-1", "c-2", "a\0b"))):
        found |= {f"{what} {name}": search.visits_of(what, {name}) for name in names}
        found |= {f"devices of {what} {name}": search.devices_of(what, name) for name in names}
        found[f"all of {what}"] = search.visits_of(what, set(names))
    found["by"] = search.visits_by({"v-1", "v-2", "nobody's"})
    found |= {f"called {make}": search.vehicles_called(make, "blueestate") for make in ("wren", "lark", "", "owl")}
    return {**found, "count": search.count()}


@pytest.fixture
def url() -> str:
    """A database with tables, and nothing in them."""
    return server().fresh()


@pytest.fixture
def both(folder: Path, tmp_path: Path, url: str, rulebook: Books) -> Iterator[tuple[Logbook, Logbook]]:
    """One logbook in a folder, which searches in memory, and one over a database, which doesn't."""
    with ExitStack() as opened:
        plain = opened.enter_context(Logbook(folder, rulebook, floor_bytes=0))
        kept = opened.enter_context(over(url, tmp_path / "one", rulebook))
        assert (type(plain.search), type(kept.search)) == (Search, KeptSearch)
        yield plain, kept


def over(url: str, folder: Path, rulebook: Books, patience_s: float = 5) -> Logbook:
    """A service over the database."""
    folder.mkdir(exist_ok=True)
    return Logbook(folder, rulebook, floor_bytes=0, open_store=lambda: PostgresStore(Database(url, patience_s)))


def tables(url: str) -> list[str]:
    """All that the register holds, a text for each row."""
    with psycopg.connect(url) as connection:
        rows = [row for table in (b"visits", b"words")
                for row in connection.execute(b"SELECT * FROM " + table + b" ORDER BY 1, 2").fetchall()]
    return [json.dumps(row, ensure_ascii=False) for row in rows]


def sent(logbook: Logbook, ops: list[dict[str, Any]]) -> None:
    """Each is sent by its phone, those that follow each other together."""
    for device, own in groupby(ops, key=lambda op: str(op["device"])):
        results = receive(logbook, body_of(*own), JUNE_12, device)["results"]
        assert {result["status"] for result in results} == {"accepted"}, results


@pytest.mark.parametrize("seed", range(4))
def test_both_searches_answer_the_same(both: tuple[Logbook, Logbook], seed: int) -> None:
    """Random visits, renamed and not, asked for in many ways; some queries find something, and some nothing."""
    ops = day_of_work(random.Random(seed))
    for logbook in both:
        sent(logbook, ops)
    plain, kept = map(answers, both)
    assert kept == plain
    sizes = [len(plain[f"find {text!r}"]["visits"]) for text in QUERIES]
    assert sum(size > 0 for size in sizes) > 30
    assert sum(size == 0 for size in sizes) > 8


def test_the_register_is_the_same_however_it_came_about(
    both: tuple[Logbook, Logbook], url: str, tmp_path: Path, rulebook: Books
) -> None:
    """As filed; filled for a database of an earlier version; after a rebuild of all views, and of one month's."""
    _, kept = both
    sent(kept, day_of_work(random.Random(9)))
    kept.flush()
    wanted = tables(url)
    assert len(wanted) > 500
    with psycopg.connect(url) as connection:
        for query in (b"DELETE FROM visits", b"DELETE FROM words", b"DELETE FROM reach WHERE area = 'register'"):
            connection.execute(query)
    with over(url, tmp_path / "two", rulebook):
        assert tables(url) == wanted
    for again in (lambda: rebuild(kept, lambda done, of: None), lambda: rebuild_one(kept, "months/2026-06")):
        with psycopg.connect(url) as connection:
            connection.execute("DELETE FROM words WHERE place LIKE '2026-06%'")
            connection.execute("DELETE FROM visits WHERE place LIKE '2026-06%'")
        assert tables(url) != wanted
        again()
        # Whoever takes the lock next sees that views were replaced, even by itself.
        kept.flush()
        assert tables(url) == wanted


def test_nothing_of_an_erased_visit_stays_in_the_register(
    both: tuple[Logbook, Logbook], url: str, tmp_path: Path, rulebook: Books
) -> None:
    """Neither its row nor a word of it, former names included; a service that had it open doesn't bring it back."""
    _, one = both
    van = Phone("a1de")
    with over(url, tmp_path / "two", rulebook) as two:
        kept, gone = van.new_id(), van.new_id()
        for visit, name, plate in ((kept, "S. Lund", "ALD 4127"), (gone, "M. Okafor", "LT 482")):
            body = {"customer": {"name": name, "id": f"c-{name[0]}"}, "vehicle": {"plate": plate}}
            base: dict[str, str | None] = {"/customer/name": None, "/customer/id": None, "/vehicle/plate": None}
            ops = [van.opening(visit), van.op(visit, "visit.set", body, base)]
            sent(one, ops)
        sent(two, [van.plate(gone, "LT 483", ops[1]["id"])])
        assert [row["id"] for row in one.search.find("lt482")["visits"]] == [gone]
        assert [row["plate"] for row in one.search.find("okafor")["visits"]] == ["LT 483"]
        before = len(tables(url))
        assert erase(one, "M. Okafor", JUNE_12)["visits"] == 1
        sent(two, [van.test(kept, "t1", vent_c=9.5)])
        two.flush()
        for logbook in (one, two):
            assert [logbook.search.find(text)["visits"] for text in ("okafor", "lt482", "LT 483", "afor")] == [[]] * 4
            assert [row["id"] for row in logbook.search.newest(5)] == [kept]
    assert 0 < len(tables(url)) < before
    assert not [row for row in tables(url) if gone in row or "kafor" in row or "lt48" in row]


def test_what_a_service_filed_that_died_at_once_is_found_by_the_others(
    both: tuple[Logbook, Logbook], url: str, tmp_path: Path, rulebook: Books
) -> None:
    """Its entries are on file, but nothing of them in the register: as if it had been killed between the two."""
    _, one = both
    van = Phone("a1de")
    with over(url, tmp_path / "two", rulebook) as two:
        visit = van.new_id()
        sent(one, [van.opening(visit)])
        before = tables(url)
        sent(two, [van.plate(visit, "LT 482")])
        with psycopg.connect(url) as connection:
            connection.execute("DELETE FROM visits")
            connection.execute("DELETE FROM words")
            connection.execute("UPDATE reach SET number = 0 WHERE area = 'register'")
            for row in before[:1]:
                connection.execute("INSERT INTO visits VALUES (%s, %s, %s, %s, %s, %s, %s)", json.loads(row))
            for row in before[1:]:
                connection.execute("INSERT INTO words VALUES (%s, %s)", json.loads(row))
        assert one.search.find("lt482")["visits"] == []
        assert one.visit_heads(visit) is not None
        assert [row["id"] for row in two.search.find("lt482")["visits"]] == [visit]


def test_a_search_outlives_its_connections_but_not_its_database(url: str, tmp_path: Path, rulebook: Books) -> None:
    """Connections that the server ended are replaced unnoticed; without a server it is said, and afterwards found."""
    with over(url, tmp_path / "hasty", rulebook, patience_s=1) as logbook:
        van = Phone("a1de")
        visit = van.new_id()
        sent(logbook, [van.opening(visit), van.plate(visit, "LT 482")])
        for _ in range(3):
            with psycopg.connect(server().url, autocommit=True) as connection:
                # It waits until each has gone [ms]: one that is only going may still take a query.
                connection.execute("SELECT pg_terminate_backend(pid, 60000) FROM pg_stat_activity WHERE datname = %s",
                                   (url.rpartition("/")[2],))
            assert [row["id"] for row in logbook.search.find("lt482")["visits"]] == [visit]
        server().stop("immediate")
        try:
            for ask in (lambda: logbook.search.find("lt482"), logbook.search.count):
                with pytest.raises(DatabaseAway):
                    ask()
        finally:
            server().start()
        assert [row["id"] for row in logbook.search.find("lt482")["visits"]] == [visit]
