"""Several services over one PostgreSQL database: what one files the others know, in one order, each entry once.

Each service here is a logbook with its own connections, in this process or in one that is killed.
"""

from __future__ import annotations

import random
import sys
import threading
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import psycopg
import pytest

from sync.isolation import apart
from sync.kernel import fold
from sync.records.locks import SENDING, SHEETS
from sync.records.logbook import Logbook
from sync.records.postgres import schema
from sync.records.postgres.database import Database, DatabaseAway
from sync.records.postgres.schema import SchemaAhead, SchemaBehind
from sync.records.postgres.store import PostgresStore
from sync.records.receipts import receipts
from sync.work.changes import changes
from sync.work.erasure import erase
from sync.work.intake import receive
from sync.work.rebuild import rebuild
from tests.support import children
from tests.support.ops import JUNE_12, Phone, body_of
from tests.support.postgres import server

Books = dict[str, Any]
Open = Callable[..., Logbook]
ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 60


@pytest.fixture
def url() -> str:
    """A database with tables, and nothing in them."""
    return server().fresh()


@pytest.fixture
def service(url: str, tmp_path: Path, rulebook: Books) -> Iterator[Open]:
    """Opens one more service; all are closed in the end."""
    services: list[Logbook] = []

    def opened(patience_s: float = 5) -> Logbook:
        folder = tmp_path / f"service-{len(services)}"
        folder.mkdir()
        services.append(Logbook(folder, rulebook, floor_bytes=0,
                                open_store=lambda: PostgresStore(Database(url, patience_s))).__enter__())
        return services[-1]

    yield opened
    for one in services:
        one.close()


def sent(logbook: Logbook, *ops: dict[str, Any]) -> list[tuple[str, bool]]:
    """What is answered to a batch: status and whether it is a repeat."""
    results = receive(logbook, body_of(*ops), JUNE_12, ops[0]["device"])["results"]
    return [(one["status"], one["repeat"]) for one in results]


def test_what_one_files_the_others_know_at_once(service: Open) -> None:
    """Read, found, receipted, told and answered as a repeat; in the database's order, whoever filed it."""
    one, two = service(), service()
    van, truck = Phone("a1de"), Phone("b0b0", JUNE_12 + 90_000_000)
    visit = van.new_id()
    opening, plate = van.opening(visit), van.plate(visit, "LT 482")
    test = truck.test(visit, "t1", vent_c=9.5)
    assert sent(one, opening) == [("accepted", False)]
    assert sent(two, opening) == [("accepted", True)]
    assert sent(two, plate) == [("accepted", False)]
    assert sent(one, test) == [("accepted", False)]
    for logbook in (one, two):
        assert logbook.visit(visit) == fold.fold([opening, plate, test], logbook.kinds)
        assert [row["id"] for row in logbook.search.find("lt482")["visits"]] == [visit]
        assert [row["id"] for row in receipts(logbook, "a1de", 0)["receipts"]] == [opening["id"], plate["id"]]
        assert [change["kind"] for change in changes(logbook, "b0b0", "")["changes"]] == ["op", "op"]


def test_two_values_disagree_whichever_service_they_came_through(service: Open) -> None:
    """The second to come is the conflict, for both."""
    one, two = service(), service()
    van, truck = Phone("a1de"), Phone("b0b0", JUNE_12 + 90_000_000)
    visit = van.new_id()
    assert sent(one, van.opening(visit)) == [("accepted", False)]
    assert sent(one, van.plate(visit, "LT 482")) == [("accepted", False)]
    assert sent(two, truck.plate(visit, "LT 483")) == [("conflict", False)]
    for logbook in (one, two):
        assert len(fold.replay(logbook.ops(visit), logbook.kinds)["conflicts"]) == 1
        assert len(logbook.attention.newest()) == 1


def test_the_same_entry_through_two_services_at_once_counts_once(service: Open) -> None:
    """Eight phones send the same batch through two services side by side, many times."""
    both = [service(), service()]
    van = Phone("a1de")
    visit = van.new_id()
    ops = [van.opening(visit), *(van.test(visit, f"t{count}", vent_c=9.5) for count in range(20))]
    answers: list[list[tuple[str, bool]]] = []

    def send(logbook: Logbook) -> None:
        for op in ops:
            answers.append(sent(logbook, op))

    threads = [threading.Thread(target=send, args=(both[count % 2],), daemon=True) for count in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(PATIENCE_S)
    assert len(answers) == 8 * len(ops)
    assert sum(not repeat for [(_, repeat)] in answers) == len(ops)
    for logbook in both:
        assert logbook.visit(visit) == fold.fold(ops, logbook.kinds)
        assert len(list(logbook.store.records())) == len(ops)


def test_what_one_erases_no_other_shows_or_brings_back(service: Open, url: str) -> None:
    """The other had it open, changed and unwritten; afterwards it is nowhere, in no view of the database either."""
    one, two = service(), service()
    van = Phone("a1de")
    visit, other = van.new_id(), van.new_id()
    for at, (name, logbook) in zip((visit, other), (("M. Okafor", two), ("S. Lund", one)), strict=True):
        customer = van.op(at, "visit.set", {"customer": {"name": name}}, {"/customer/name": None})
        sent(logbook, van.opening(at), customer)
    assert two.visit(visit)["customer"]["name"] == "M. Okafor"
    late = van.plate(visit, "LT 482")
    sent(two, late)
    assert erase(one, "M. Okafor", JUNE_12)["visits"] == 1
    assert (two.ops(visit), two.search.find("okafor")["visits"]) == ([], [])
    assert [row["id"] for row in two.search.find("lund")["visits"]] == [other]
    assert sent(two, late) == [("accepted", True)]
    two.flush()
    one.flush()
    with psycopg.connect(url) as connection:
        for query in ("SELECT convert_from(line, 'UTF8') FROM records", "SELECT tables FROM views"):
            assert not [text for (text,) in connection.execute(query.encode()).fetchall() if "Okafor" in text]


def test_what_another_had_open_while_one_erased_is_never_written(
    service: Open, url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It knows of the erasure and writes its views of before, when they are struck and their records not yet empty."""
    one, two = service(), service()
    van = Phone("a1de")
    visit, other = van.new_id(), van.new_id()
    for at, name in ((visit, "M. Okafor"), (other, "S. Lund")):
        sent(two, van.opening(at), van.op(at, "visit.set", {"customer": {"name": name}}, {"/customer/name": None}))
    strike, blank = one.strike, one.store.blank

    def noticed_first(*asked: Any) -> None:
        assert two.ops(visit) != []
        strike(*asked)

    def written_first(*asked: Any) -> None:
        two._projection.flush()
        blank(*asked)

    monkeypatch.setattr(one, "strike", noticed_first)
    monkeypatch.setattr(one.store, "blank", written_first)
    assert erase(one, "M. Okafor", JUNE_12)["visits"] == 1
    two.flush()
    with psycopg.connect(url) as connection:
        texts = [str(text) for (text,) in connection.execute("SELECT tables FROM views").fetchall()]
    assert not [text for text in texts if "Okafor" in text]
    assert [row["id"] for row in two.search.find("lund")["visits"]] == [other]
    assert two.visit(other)["customer"]["name"] == "S. Lund"


def test_one_makes_the_views_again_while_another_files(service: Open) -> None:
    """Nothing that was filed meanwhile is missing from them, for either."""
    one, two = service(), service()
    van = Phone("a1de")
    visits = [van.new_id() for _ in range(40)]
    sent(one, *(van.opening(visit) for visit in visits[:20]))
    filing = threading.Thread(target=lambda: [sent(two, van.opening(visit)) for visit in visits[20:]], daemon=True)
    filing.start()
    rebuild(one, lambda done, of: None)
    filing.join(PATIENCE_S)
    for logbook in (one, two):
        assert all(logbook.ops(visit) for visit in visits)
        assert logbook.search.count() == 40


def test_a_database_that_is_away_is_said_and_comes_back(service: Open) -> None:
    """Nothing is promised meanwhile, nothing is filed half, and the same services go on."""
    one, two = service(1), service(1)
    van = Phone("a1de")
    visit = van.new_id()
    opening, plate = van.opening(visit), van.plate(visit, "LT 482")
    sent(one, opening)
    server().stop("immediate")
    try:
        for logbook in (one, two):
            with pytest.raises(DatabaseAway):
                sent(logbook, plate)
            with pytest.raises(DatabaseAway):
                logbook.visit(visit)
            # Nor is it a fault of the visit, which would be told a person as one.
            with pytest.raises(DatabaseAway):
                apart(visit, partial(logbook.visit, visit))
    finally:
        server().start()
    assert sent(two, plate) == [("accepted", False)]
    assert one.visit(visit) == fold.fold([opening, plate], one.kinds)


def test_tables_of_another_version_are_said_and_left_alone() -> None:
    """None yet, an earlier version, a later one; only a person changes them."""
    url = server().empty()
    for _ in range(2):
        database = Database(url)
        with pytest.raises(SchemaBehind):
            PostgresStore(database)
        database.close()
    schema.prepare(url)
    schema.prepare(url)
    database = Database(url)
    assert list(PostgresStore(database).records()) == []
    with psycopg.connect(url) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises(SchemaAhead):
        PostgresStore(database)
    database.close()


def test_the_version_is_that_of_the_last_migration() -> None:
    """What a start compares is what the migrations lead to."""
    folder = Path(schema.__file__).parent / "migrations"
    versions = sorted(path.stem.partition("_")[0] for path in folder.glob("[0-9]*.py"))
    assert versions[-1] == schema.VERSION


HOLDER = """
import sys, time
from sync.records.postgres.database import Database
with Database(sys.argv[1]).claim(sys.argv[2], sys.argv[3] == "shared"):
    print("held", flush=True)
    time.sleep(600)
"""


def test_a_holder_that_is_killed_holds_nothing(service: Open, url: str) -> None:
    """While it lives nobody else sends; once it is killed, the next one does."""
    logbook, order = service(), list[str]()
    with children.beside([sys.executable, "-c", HOLDER, url, "sending", "alone"], cwd=ROOT) as holder:
        holder.wait_for("held")

        def send() -> None:
            with logbook.claim(SENDING):
                order.append("sent")

        waiting = threading.Thread(target=send, daemon=True)
        waiting.start()
        time.sleep(0.5)
        order.append("killed")
        holder.kill()
        waiting.join(PATIENCE_S)
    assert order == ["killed", "sent"]


def test_a_holder_is_told_that_its_claim_is_lost(service: Open, url: str) -> None:
    """The database ends its connection: what can't be taken back isn't done any more, and another may claim it."""
    logbook, other = service(), Database(url)
    with logbook.claim(SENDING) as holds:
        assert holds is not None
        holds()
        with psycopg.connect(server().url, autocommit=True) as connection:
            connection.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                               " WHERE datname = %s AND state = 'idle in transaction'", (url.rpartition("/")[2],))
        with other.claim("sending") as held:
            held()
            with pytest.raises(DatabaseAway):
                holds()
    other.close()


def test_sheets_are_made_in_several_services_but_not_while_one_erases(service: Open, url: str) -> None:
    """While another service makes a sheet, this one makes one, too; an erasure waits until the other has ended."""
    logbook, order = service(), list[str]()
    with children.beside([sys.executable, "-c", HOLDER, url, "sheets", "shared"], cwd=ROOT) as holder:
        holder.wait_for("held")
        with SHEETS.together(logbook.store.claim):
            order.append("made")

        def erase() -> None:
            with SHEETS.alone(logbook.store.claim):
                order.append("erased")

        waiting = threading.Thread(target=erase, daemon=True)
        waiting.start()
        time.sleep(0.5)
        order.append("killed")
        holder.kill()
        waiting.join(PATIENCE_S)
    assert order == ["made", "killed", "erased"]


FILER = """
import sys
from pathlib import Path
from sync import rulebook
from sync.records.logbook import Logbook
from sync.records.postgres.database import Database, DatabaseAway
from sync.records.postgres.store import PostgresStore
from sync.work.intake import receive
from tests.support import children
from tests.support.ops import JUNE_12, Phone, body_of
url, folder, device, start = sys.argv[1:5]
van = Phone(device, JUNE_12 + 1000 * int(start))
van.seq = int(start)
with Logbook(Path(folder), rulebook.load(), floor_bytes=0, open_store=lambda: PostgresStore(Database(url))) as logbook:
    while True:
        visit = van.new_id()
        op = van.opening(visit)
        while True:
            try:
                [result] = receive(logbook, body_of(op), JUNE_12, device)["results"]
            except DatabaseAway:
                continue
            break
        print(op["id"], visit, result["status"], flush=True)
"""


@pytest.mark.parametrize("kills", [12, pytest.param(100, marks=pytest.mark.long)])
def test_kills_lose_and_double_nothing_acknowledged(url: str, tmp_path: Path, rulebook: Books, kills: int) -> None:
    """Two services file without a pause; services and database backends are killed by turns, and others go on."""
    chance, started = random.Random(19), list[children.Child]()

    def start() -> children.Child:
        count = len(started)
        command = [sys.executable, "-c", FILER, url, tmp_path / f"filer-{count}", f"a{count:05x}", str(count * 100_000)]
        started.append(children.Child(command, cwd=ROOT))
        return started[-1]

    def acknowledged() -> list[list[str]]:
        return [line.split() for filer in started for line in filer.stdout.decode().split("\n")[:-1]]

    filers = [start(), start()]
    try:
        for count in range(kills):
            enough = len(acknowledged()) + 5
            filers[0].until(lambda enough=enough: len(acknowledged()) >= enough, "five more entries")
            time.sleep(chance.random() / 20)
            if count % 3 == 2:
                filers[count % 2].kill()
                filers[count % 2] = start()
            else:
                server().kill_backend(url, chance)
        for filer in filers:
            filer.kill()
        promised = acknowledged()
    finally:
        for filer in started:
            filer.forget()
    folder = tmp_path / "reader"
    with Logbook(folder, rulebook, floor_bytes=0, open_store=lambda: PostgresStore(Database(url))) as logbook:
        lines = [record.result["id"] for record in logbook.store.records()]
        assert len(lines) == len(set(lines))
        assert {status for *_, status in promised} == {"accepted"}
        assert [visit for _, visit, _ in promised if not logbook.ops(visit)] == []
        assert {identifier for identifier, *_ in promised} <= set(lines)
        assert logbook.search.count() == len(lines)
