"""What a search costs with many visits on file: by plate, VIN, name and day, at first and once it is warm.

Run by hand: `.venv/bin/python -m tests.bench.bench_search [--visits 20000]`. The limit is 100 ms at 20,000 visits. The
first search after a start reads every month's page; both are printed, with the changes of one device beside them.
"""

from __future__ import annotations

import argparse
import random
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sync import rulebook as books
from sync.records.logbook import Logbook
from sync.work.changes import changes
from sync.work.intake import LINES_MOST, take
from tests.bench import results
from tests.support.ops import JUNE_12, Phone, line_of, uuid7

DAY_MS = 86_400_000
VISITS_A_DAY = 8
NAMES = ("Okafor", "Varga", "Lindqvist", "Moreau", "Tanaka", "Ferreira", "Novak", "Petrov", "Haddad", "Byrne")
SEARCHES = ("Q0123", "1G4AH59H400004711", "okafor", "h. okafor", "2019-11-05", "2025", "no such thing")
LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"


def visit_lines(number: int, dice: random.Random) -> list[bytes]:
    """The op lines of one visit: eight a day from one phone; every fourth from another."""
    ms = JUNE_12 - 4000 * DAY_MS + number // VISITS_A_DAY * DAY_MS + number % VISITS_A_DAY * 3_600_000
    phone, other = Phone("a1de", ms), Phone("b0b0", ms + 500)
    phone.seq, other.seq = number * 3, number
    visit, car = uuid7(ms, number), dice.randrange(7000)
    day = time.strftime("%Y-%m-%d", time.gmtime(ms / 1000))
    vehicle = {"id": f"v{car}", "plate": f"{LETTERS[car % 24]}{car:04d}", "vin": f"1G4AH59H4{car:08d}", "make": "Wren"}
    body = {"vehicle": vehicle, "customer": {"name": f"{chr(65 + car % 26)}. {dice.choice(NAMES)}"}}
    base = {f"/{part}/{name}": None for part, fields in body.items() for name in fields}
    entries = [phone.opening(visit, f"{day}T09:05:00-07:00"), phone.op(visit, "visit.set", body, base)]
    if number % 4 == 0:
        entries.append(other.op(visit, "sheet.approve", {"revision": "ab" * 32}))
    return [line_of(op)[:-1] for op in entries]


def fill(logbook: Logbook, visits: int) -> None:
    """File this many visits."""
    dice, lines = random.Random(1), list[bytes]()
    for number in range(visits):
        lines += visit_lines(number, dice)
        while len(lines) >= LINES_MOST or (lines and number == visits - 1):
            answers = take(logbook, lines[:LINES_MOST], JUNE_12)
            assert {answer["status"] for answer in answers} == {"accepted"}
            lines = lines[LINES_MOST:]


def duration(work: Callable[[], Any]) -> float:
    """One call by the clock [s]."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def search_rows(logbook: Logbook, visits: int) -> list[results.Row]:
    """The first search after a start, and each kind of search once everything has been read."""
    on_file = f"with {visits:,} visits on file"
    before, by_clock = time.process_time(), duration(lambda: logbook.search.find(SEARCHES[0]))
    work = time.process_time() - before
    first = f"{results.time_text(by_clock)} by the clock, {results.time_text(work)} by the processor"
    rows = [(f"the first search after a start, {on_file}", first, "100 ms")]
    for text in SEARCHES:
        durations = [duration(lambda text=text: logbook.search.find(text)) for _ in range(9)]
        count = len(logbook.search.find(text)["visits"])
        rows.append((f"a search for `{text}`, {count} visits shown", results.spread(durations), "100 ms"))
    return rows


def changes_row(logbook: Logbook) -> results.Row:
    """The cost of a phone that asks for changes and already knows them all, without HTTP."""
    answer = changes(logbook, "a1de", "")
    while answer["more"]:
        answer = changes(logbook, "a1de", answer["cursor"])
    durations = [duration(lambda: changes(logbook, "a1de", answer["cursor"])) for _ in range(21)]
    return "the changes of a phone that knows them all, without HTTP", results.spread(durations), ""


def main() -> None:
    """Measure, print and write down."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--visits", type=int, default=20_000)
    asked = parser.parse_args()
    run = results.Run.begin(f"python -m tests.bench.bench_search --visits {asked.visits}")
    book = books.load()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with Logbook(folder, book, floor_bytes=0) as logbook:
            fill(logbook, asked.visits)
        with Logbook(folder, book, floor_bytes=0) as logbook:
            rows = [*search_rows(logbook, asked.visits), changes_row(logbook)]
    results.report(results.BENCH, "Searching", run, rows)


if __name__ == "__main__":
    main()
