"""What filing into PostgreSQL costs: with few and with many visits on file, against bare inserts, through two services.

Run by hand: `python -m tests.bench.bench_several [--few 1000] [--many 10000] [--vans 50] [--rounds 200]`. It starts a
server of its own, without fsync on either side. The compared runs take turns. Nothing here decides pass or fail.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import psycopg

from sync import rulebook as books
from sync.records.logbook import Logbook
from sync.records.postgres.database import Database
from sync.records.postgres.store import PostgresStore
from sync.wire.json_parsing import parse
from sync.wire.schemas import check_op
from sync.work.intake import LINES_MOST, take
from tests.bench import results
from tests.bench.bench_records import Cost, file_batch, middle, rows_of, visit_lines
from tests.support.ops import JUNE_12
from tests.support.postgres import server
from tests.support.threads import join

Book = dict[str, Any]
VISITS_OF_A_VAN, OPS_OF_A_VISIT = 12, 30


@contextmanager
def service(url: str, place: Path, book: Book) -> Iterator[Logbook]:
    """One service over a database."""
    place.mkdir(exist_ok=True)
    with Logbook(place, book, floor_bytes=0, open_store=lambda: PostgresStore(Database(url))) as logbook:
        yield logbook


def fill(logbook: Logbook, visits: int) -> None:
    """File this many visits of three operations."""
    for start in range(0, visits, LINES_MOST // 3):
        numbers = range(start, min(start + LINES_MOST // 3, visits))
        file_batch(logbook, [line for number in numbers for line in visit_lines(number, 3)])


def on_file(few: int, many: int, rounds: int, place: Path, book: Book) -> tuple[Cost, Cost]:
    """The median costs of filing one visit of three operations with few and with many on file, in turn."""
    costs: tuple[list[Cost], list[Cost]] = ([], [])
    with ExitStack() as open_ones:
        both = []
        for count in (few, many):
            logbook = open_ones.enter_context(service(server().fresh(), place / f"with-{count}", book))
            fill(logbook, count)
            both.append(logbook)
        for number in range(many, many + rounds):
            for logbook, own in zip(both, costs, strict=True):
                own.append(file_batch(logbook, visit_lines(number, 3)))
    return middle(costs[0]), middle(costs[1])


def batches_of(vans: int) -> list[list[bytes]]:
    """What the vans send on one day, van by van, in the batches of a phone."""
    batches = []
    for van in range(vans):
        lines = [line for number in range(VISITS_OF_A_VAN)
                 for line in visit_lines(van * VISITS_OF_A_VAN + number, OPS_OF_A_VISIT, f"{van:04x}")]
        batches += [lines[start : start + LINES_MOST] for start in range(0, len(lines), LINES_MOST)]
    return batches


def bare(connection: psycopg.Connection[Any], number: int, batch: list[bytes]) -> float:
    """Insert the rows of a batch and commit [s]."""
    result = json.dumps({"id": None, "status": "accepted", "digest": "0" * 64})
    rows = [(number + place, JUNE_12, result, line, "0" * 8, f"{number + place}") for place, line in enumerate(batch)]
    start = time.perf_counter()
    with connection.cursor() as cursor:
        cursor.executemany('INSERT INTO records (number, received_ms, result, line, "check", counted)'
                           " VALUES (%s, %s, %s, %s, %s, %s)", rows)
    connection.commit()
    return time.perf_counter() - start


def checked(batch: list[bytes], book: Book) -> float:
    """Parse, hash and validate the lines of a batch, without any store [s]."""
    start = time.perf_counter()
    for line in batch:
        assert hashlib.sha256(line[65:]).hexdigest().encode() == line[:64]
        assert check_op(parse(line[65:]), book) == []
    return time.perf_counter() - start


def vans_against_inserts(vans: int, place: Path, book: Book) -> tuple[float, float, float]:
    """Filing a day of all vans, with the views written; only checking the same batches; and the bare inserts of as many
    rows; batch by batch in turn [s, s, s].
    """
    filing, checks, least, number = 0.0, 0.0, 0.0, 0
    with service(server().fresh(), place / "vans", book) as logbook, psycopg.connect(server().fresh()) as connection:
        for batch in batches_of(vans):
            filing += file_batch(logbook, batch)[0]
            checks += checked(batch, book)
            least += bare(connection, number, batch)
            number += len(batch)
        start = time.perf_counter()
        logbook.flush()
        return filing + time.perf_counter() - start, checks, least


def through(services: int, vans: int, place: Path, book: Book) -> float:
    """How long a day of all vans takes through this many services of one process at once [s]."""
    url, batches = server().fresh(), batches_of(vans)
    with ExitStack() as open_ones:
        logbooks = [open_ones.enter_context(service(url, place / f"of-{services}-{number}", book))
                    for number in range(services)]
        own = [batches[number * len(batches) // services : (number + 1) * len(batches) // services]
               for number in range(services)]

        def send(logbook: Logbook, batches: list[list[bytes]]) -> None:
            for batch in batches:
                answers = take(logbook, batch, JUNE_12)
                assert {(answer["status"], answer["repeat"]) for answer in answers} == {("accepted", False)}

        threads = [threading.Thread(target=send, args=pair, daemon=True) for pair in zip(logbooks, own, strict=True)]
        start = time.perf_counter()
        for thread in threads:
            thread.start()
        join(*threads)
        return time.perf_counter() - start


def main() -> None:
    """Measure, print and write down."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--few", type=int, default=1000)
    parser.add_argument("--many", type=int, default=10_000)
    parser.add_argument("--vans", type=int, default=50)
    parser.add_argument("--rounds", type=int, default=200)
    asked = parser.parse_args()
    few, many, vans = asked.few, asked.many, asked.vans
    run = results.Run.begin(f"python -m tests.bench.bench_several --few {few} --many {many} --vans {vans}"
                            f" --rounds {asked.rounds}")
    book = books.load()
    check_op({}, book)
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        costs = on_file(few, many, asked.rounds, place, book)
        filing, checks, least = vans_against_inserts(vans, place, book)
        one, two = (through(services, vans // 5, place, book) for services in (1, 2))
    what = f"filing a visit of 3 operations with {many:,} visits on file, against {few:,}"
    rows = rows_of(what, costs[1], costs[0], "1.25 times")
    day = f"a day of {vans} vans, {VISITS_OF_A_VAN} visits of {OPS_OF_A_VISIT} operations each"
    rows.append((f"{day}, against bare inserts of as many rows, by the clock", results.ratio(filing, least), "2 times"))
    rows.append(("only parsing, hashing and validating the same batches, against the same inserts",
                 results.ratio(checks, least), ""))
    rows.append(("the same day, against checking and bare inserts together", results.ratio(filing, checks + least), ""))
    rows.append((f"a day of {vans // 5} vans through one service, against two at once in the same process,"
                 " by the clock", results.ratio(one, two), ""))
    beside = ("Server and services share the machine's cores, and the server doesn't sync. Not measured: more"
              " cores, several hosts, other engines.")
    results.report(results.BENCH, "Several services over one database", run, rows, beside)


if __name__ == "__main__":
    main()
