"""What filing costs with a million visits in the database, against a thousand, both loaded row by row by COPY.

Run by hand: `python -m tests.bench.bench_loaded [--few 1000] [--many 1000000] [--rounds 200]`. Each visit has three
operations. Records, views and the register are made here as the store would hold them; that they are the same is
checked first, on a day that is filed as phones file it. Nothing here decides pass or fail.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import tempfile
import time
import zlib
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import psycopg

from sync import rulebook as books
from sync.records import findable
from sync.records.logbook import Logbook
from sync.records.postgres.database import Database
from sync.records.postgres.register import AREA, _kept
from sync.records.postgres.store import NO_CHECK, PostgresStore
from sync.records.store.register import RegisterRow
from sync.records.views import MonthRow, device_view
from sync.wire.schemas import check_op
from tests.bench import results
from tests.bench.bench_records import DAY_MS, Cost, file_batch, middle, rows_of
from tests.support.ops import JUNE_12, uuid7
from tests.support.postgres import server

VANS, VISITS_OF_A_VAN = 50, 5
VISITS_A_DAY = VANS * VISITS_OF_A_VAN
OPS = 3
DAYS_BACK = 5000
COPIES = ('records (number, received_ms, result, line, "check", counted, is_blank)',
          "visits (visit, place, vehicle, customer, called, words, shown)", "words (word, place)")  # fmt: skip
Rows = Iterator[tuple[Any, ...]]
Views = dict[str, dict[str, dict[str, Any]]]


class Made:
    """One visit's operations, and what they put on the views.

    Args of the constructor:
        place: which visit it is, counted from the first day's first [count]
    """

    def __init__(self, place: int) -> None:
        day, van = place // VISITS_A_DAY, place % VANS
        ms = JUNE_12 - DAYS_BACK * DAY_MS + day * DAY_MS + place % VISITS_A_DAY * 20_000
        moment = datetime.fromtimestamp(ms // 1000, UTC)
        self.day, self.month, self.started = f"{moment:%Y-%m-%d}", f"{moment:%Y-%m}", f"{moment:%Y-%m-%dT%H:%M:%S}Z"
        self.number, self.visit, self.plate = place * OPS, uuid7(ms, place * 8), f"P{place}"
        self.device = f"{van:04x}"
        self.seq = (day * VISITS_OF_A_VAN + place % VISITS_A_DAY // VANS) * OPS + 1
        bodies = (("visit.open", {"started_at": self.started}, {"/started_at": None}),
                  ("visit.set", {"vehicle": {"plate": self.plate}}, {"/vehicle/plate": None}),
                  ("test.add", {"id": "t0", "role": "before", "at": self.started,
                                "readings": {"low_kpa_g": 150, "high_kpa_g": 1240, "vent_c": 6.5}}, {}))
        self.ids = [uuid7(ms + 1 + step, place * 8 + 1 + step) for step in range(OPS)]
        self.lines, self.digests = [], []
        for step, (kind, body, base) in enumerate(bodies):
            content = json.dumps({"id": self.ids[step], "device": self.device, "seq": self.seq + step, "schema": 1,
                                  "visit": self.visit, "kind": kind, "base": base, "body": body, "at": ms,
                                  "tz": 0}).encode()
            self.digests.append(hashlib.sha256(content).hexdigest())
            self.lines.append(self.digests[-1].encode() + b" " + content)

    def rows(self) -> Rows:
        """The rows of its records."""
        for step, (name, digest, line) in enumerate(zip(self.ids, self.digests, self.lines, strict=True)):
            number = self.number + step
            result = f'{{"id":"{name}","status":"accepted","digest":"{digest}"}}'
            check = zlib.crc32(line, zlib.crc32(f"{number} {JUNE_12} {result} ".encode()))
            yield number, JUNE_12, result, line, f"{check:08x}", name, False

    def enter(self, days: Views, receipts: Views, months: Views) -> None:
        """Put it on the views of its day, its phone and its month."""
        day = days.setdefault(f"days/{self.day}", {"ops": {}, "started": {}, "visits": {}})
        numbers = range(self.number, self.number + OPS)
        day["ops"].update((name, {"number": number}) for name, number in zip(self.ids, numbers, strict=True))
        day["started"][self.visit] = {}
        filed = [{"id": name, "digest": digest, "status": "accepted", "device": self.device, "seq": self.seq + step,
                  "number": numbers[step]}
                 for step, (name, digest) in enumerate(zip(self.ids, self.digests, strict=True))]
        leaves = ("/started_at", "/vehicle/plate", *(f"/tests/t0/{end}" for end in (
            "at", "readings/high_kpa_g", "readings/low_kpa_g", "readings/vent_c", "role")))
        by = (self.ids[0], self.ids[1], *[self.ids[2]] * 5)
        day["visits"][self.visit] = {
            "opened": True, "ops": filed, "notes": [],
            "heads": {leaf: [name] for leaf, name in zip(leaves, by, strict=True)}, "stand_ins": {},
            "summary": {"started_at": self.started, "plate": self.plate}, "missing": []}
        for one in filed:
            view = receipts.setdefault(device_view(self.device, one["seq"]), {"receipts": {}})
            view["receipts"][f"{one['seq']} {one['number']}"] = {
                "seq": one["seq"], "id": one["id"], "status": "accepted", "digest": one["digest"]}
        month = months.setdefault(f"months/{self.month}", {"rows": {}})
        month["rows"][self.visit] = self.month_row()

    def month_row(self) -> MonthRow:
        """What finds it."""
        return {"also": [], "started_at": self.started, "plate": self.plate}

    def register(self) -> RegisterRow:
        """Its row in the register."""
        return findable.register_row(f"months/{self.month}", self.visit, self.month_row())


def view_rows(views: Views, mark: tuple[int, str]) -> Rows:
    """The rows of some views."""
    for name, tables in views.items():
        content = json.dumps(tables, ensure_ascii=False, separators=(",", ":"))
        yield "in use", name, name.rpartition("/")[0], *mark, content


def load(url: str, visits: int) -> float:
    """Load this many visits, their rows in the register and their views; the database looks at its tables [s]."""
    start, mark = time.perf_counter(), (-1, "0" * 8)
    days: Views = {}
    receipts: Views = {}
    months: Views = {}
    with ExitStack() as open_ones:
        tables = [open_ones.enter_context(psycopg.connect(url)) for _ in COPIES]
        beside = open_ones.enter_context(psycopg.connect(url))
        with ExitStack() as copying:
            records, found, words = [copying.enter_context(connection.cursor().copy(f"COPY {columns} FROM STDIN"))
                                     for connection, columns in zip(tables, COPIES, strict=True)]
            for place in range(visits):
                made = Made(place)
                for row in made.rows():
                    records.write_row(row)
                mark = row[0], row[4]
                register = made.register()
                found.write_row(_kept(register))
                for word in register.words:
                    words.write_row((word, register.place))
                made.enter(days, receipts, months)
                if place % VISITS_A_DAY == VISITS_A_DAY - 1:
                    _put(beside, days, mark)
        for views in (days, receipts, months):
            _put(beside, views, mark)
        # What finds a visit is changed by its first two operations.
        for area, number, check in (("in use", *mark), (AREA, mark[0] - 1, NO_CHECK)):
            beside.execute('INSERT INTO reach (area, number, "check") VALUES (%s, %s, %s)', (area, number, check))
    with psycopg.connect(url) as connection:
        connection.execute("ANALYZE")
    return time.perf_counter() - start


def _put(connection: psycopg.Connection[Any], views: Views, mark: tuple[int, str]) -> None:
    """Load some views and forget them. Which record they cover matters only if more are filed; these are complete."""
    with connection.cursor().copy('COPY views (area, name, folder, number, "check", tables) FROM STDIN') as copied:
        for row in view_rows(views, mark):
            copied.write_row(row)
    views.clear()


def opened(url: str, place: Path, book: Any) -> Logbook:
    """A logbook over a database, without the work behind that a start begins: reading all records once."""
    place.mkdir()
    logbook = Logbook(place, book, floor_bytes=0, open_store=lambda: PostgresStore(Database(url))).__enter__()
    logbook._upkeep.end()
    return logbook


def close(logbook: Logbook) -> None:
    """Its connections; the views of what was filed here aren't needed any more."""
    logbook.store.close(clean=True)


def check_made(place: Path, book: Any) -> None:
    """The rows made here for a day are those of a day that is filed: the same records, the same views."""
    urls = server().fresh(), server().fresh()
    load(urls[0], VISITS_A_DAY)
    logbook = opened(urls[1], place / "filed", book)
    for number in range(VISITS_A_DAY):
        file_batch(logbook, Made(number).lines)
    logbook.flush()
    close(logbook)
    queries = ("SELECT * FROM records ORDER BY number", "SELECT name, folder, tables FROM views ORDER BY name",
               "SELECT * FROM visits ORDER BY visit", "SELECT * FROM words ORDER BY word, place",
               "SELECT * FROM reach ORDER BY area")
    for query in queries:
        one, other = ([(*row[:2], json.loads(row[2])) if "views" in query else row for row in
                       psycopg.connect(url).execute(query.encode()).fetchall()] for url in urls)
        assert one == other, query


def size_of(url: str, table: str) -> float:
    """How large a table is with its indexes [GB]."""
    with psycopg.connect(url) as connection:
        row = connection.execute("SELECT pg_total_relation_size(%s::regclass)", (table,)).fetchone()
    assert row is not None
    return float(row[0]) / 1e9


def main() -> None:
    """Measure, print and write down."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--few", type=int, default=1000)
    parser.add_argument("--many", type=int, default=1_000_000)
    parser.add_argument("--rounds", type=int, default=200)
    asked = parser.parse_args()
    few, many = asked.few, asked.many
    run = results.Run.begin(f"python -m tests.bench.bench_loaded --few {few} --many {many} --rounds {asked.rounds}")
    book = books.load()
    check_op({}, book)
    urls = [server().fresh(), server().fresh()]
    costs: tuple[list[Cost], list[Cost]] = ([], [])
    with tempfile.TemporaryDirectory() as name:
        check_made(Path(name), book)
        load(urls[0], few)
        took = load(urls[1], many)
        both = [opened(url, Path(name) / f"desk-{number}", book) for number, url in enumerate(urls)]
        for number in range(many, many + asked.rounds):
            for logbook, own in zip(both, costs, strict=True):
                own.append(file_batch(logbook, Made(number).lines))
        for logbook in both:
            close(logbook)
    rows = rows_of(f"filing a visit of 3 operations with {many:,} visits in the database, against {few:,}",
                   middle(costs[1]), middle(costs[0]), "1.25 times")
    rows.append((f"making and loading {many:,} visits, {OPS * many:,} records and their views",
                 f"{took:.0f} s", ""))
    tables = ("records", "views", "visits", "words")
    rows.append((f"tables with their indexes: {', '.join(tables)}",
                 ", ".join(f"{size_of(urls[1], table):.2f} GB" for table in tables), ""))
    beside = (f"{VISITS_A_DAY} visits a day by {VANS} vans. The server shares the machine's cores and doesn't sync."
              " Measured is filing, the register included, without the reading of all records that every start does"
              " behind its work. Not tried: several hosts, other engines.")
    results.report(results.BENCH, "Many visits loaded into the database", run, rows, beside)


if __name__ == "__main__":
    main()
