"""What a search in a database costs: against bare selects of the same rows by the same index, and filing into it.

Run by hand: `python -m tests.bench.bench_register [--visits 20000] [--copies 9]`. It starts a server of its own,
without fsync, and files the visits through a logbook. Then it copies all rows of the register that many times, as those
of other visits, and searches again. The compared runs take turns. Nothing here decides pass or fail.
"""

from __future__ import annotations

import argparse
import json
import statistics
import tempfile
from pathlib import Path
from typing import Any

import psycopg

from sync import rulebook as books
from sync.records.logbook import Logbook
from sync.records.search import FOUND_MOST
from tests.bench import results
from tests.bench.bench_search import SEARCHES, duration, fill
from tests.bench.bench_several import service
from tests.support.postgres import server

LAST = chr(0x10FFFF)
ROUNDS = 101
# As a person would write it who has only the index: the places of each word, then the newest rows of those in all.
STRETCH = "SELECT place FROM words WHERE word >= %s AND word < %s"
NEWEST = "SELECT shown FROM visits WHERE place IN (SELECT place FROM ({}) AS found ORDER BY place DESC LIMIT %s)"

Connection = psycopg.Connection[Any]


def bare(connection: Connection, text: str) -> list[str]:
    """The same rows by the least that SQL needs, nothing made of them [ids of visits, in order]."""
    words = text.casefold().split()
    ends = [end for word in words for end in (word, word + LAST)]
    one = STRETCH.replace("SELECT", "SELECT DISTINCT")
    found = " INTERSECT ".join([STRETCH] * len(words)) if len(words) > 1 else one
    query = f"{NEWEST.format(found)} ORDER BY place DESC".encode()
    return [shown for (shown,) in connection.execute(query, (*ends, FOUND_MOST + 1)).fetchall()]


def search_rows(logbook: Logbook, connection: Connection, what: str) -> list[results.Row]:
    """Each search against the bare select, in turn."""
    rows = []
    for text in SEARCHES:
        least = [json.loads(shown)["id"] for shown in bare(connection, text)][:FOUND_MOST]
        assert [row["id"] for row in logbook.search.find(text)["visits"]] == least
        both: tuple[list[float], list[float]] = ([], [])
        for _ in range(ROUNDS):
            both[0].append(duration(lambda text=text: logbook.search.find(text)))
            both[1].append(duration(lambda text=text: bare(connection, text)))
        rows.append((f"a search for `{text}` {what}, {len(least)} visits shown, against the bare select",
                     results.ratio(*map(statistics.median, both)), "2 times"))
    return rows


def copy(connection: Connection, copies: int) -> None:
    """Every row of the register again as another visit, each time a thousand years and more before."""
    visits = connection.execute("SELECT visit, place, vehicle, customer, called, words, shown FROM visits").fetchall()
    words = connection.execute("SELECT word, place FROM words").fetchall()
    for number in range(copies):
        with connection.cursor() as cursor:
            with cursor.copy("COPY visits (visit, place, vehicle, customer, called, words, shown) FROM STDIN") as rows:
                for visit, place, *rest in visits:
                    rows.write_row((f"{number}{visit}", f"{number}{place[1:]}{number}", *rest))
            with cursor.copy("COPY words (word, place) FROM STDIN") as rows:
                for word, place in words:
                    rows.write_row((word, f"{number}{place[1:]}{number}"))
        connection.commit()
    connection.autocommit = True
    connection.execute("VACUUM ANALYZE visits, words")


def size_row(connection: Connection, visits: int) -> results.Row:
    """How much room both tables take with their indexes."""
    [size] = connection.execute(
        "SELECT pg_total_relation_size('visits') + pg_total_relation_size('words')").fetchone() or (0,)
    return f"room of the register, with its indexes, for {visits:,} visits", f"{size / 1e6:.0f} MB", ""


def main() -> None:
    """Measure, print and write down."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--visits", type=int, default=20_000)
    parser.add_argument("--copies", type=int, default=9)
    asked = parser.parse_args()
    run = results.Run.begin(f"python -m tests.bench.bench_register --visits {asked.visits} --copies {asked.copies}")
    book, url, many = books.load(), server().fresh(), asked.visits * (asked.copies + 1)
    with tempfile.TemporaryDirectory() as name, psycopg.connect(url) as connection:
        with service(url, Path(name) / "filer", book) as logbook:
            fill(logbook, asked.visits)
        connection.execute("ANALYZE visits, words")
        connection.commit()
        with service(url, Path(name) / "reader", book) as logbook:
            rows = search_rows(logbook, connection, f"with {asked.visits:,} visits")
            copy(connection, asked.copies)
            rows += search_rows(logbook, connection, f"with {many:,}")
            rows.append((f"the newest 400 of {many:,}", results.spread(
                [duration(lambda: logbook.search.newest(400)) for _ in range(ROUNDS)]), ""))
        rows.append(size_row(connection, many))
    results.report(results.BENCH, "Searching in a database", run, rows, "The bare select is the same indexed stretch of"
                   " words, for each word of the text, over a connection of its own; nothing is made of its rows.")


if __name__ == "__main__":
    main()
