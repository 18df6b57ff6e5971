"""A desk after ten years: start, filing, a search and an evening of twelve, with 100,000 visits on file and with 1,000.

Run by hand: `python -m tests.bench.bench_long_life [--few 1000] [--many 100000] [--place FOLDER]`. The compared runs
take turns. Filling takes some minutes; `--place` keeps the folders for the next run. Nothing here decides pass or fail.
"""

from __future__ import annotations

import argparse
import copy
import shutil
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from server.tasks import evening
from sync import rulebook as books
from sync.physics import refrigerant
from sync.records.logbook import Logbook
from sync.records.sheet_records import SheetRecords
from tests.bench import results
from tests.bench.bench_records import costs_with, fill
from tests.bench.bench_start import serve_duration
from tests.server.test_evening import DAY, Desk
from tests.support.ops import uuid7
from tests.support.sheet_visits import PAIR, STARTED_MS, operations

SHEETS, ROUNDS = 12, 5
SEARCHES = ("P99", "2014-03", "P4711")


def starts(few: Path, many: Path) -> results.Row:
    """A service until it answers, on each folder in turn."""
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(ROUNDS):
        for folder, own in zip((few, many), times, strict=True):
            own.append(serve_duration(folder))
    small, large = (statistics.median(own) for own in times)
    return ("`layby serve` until it answers", results.ratio(large, small), "1.5 times")


def searches(folder: Path, book: dict[str, Any]) -> list[results.Row]:
    """The first search after a start, and others once everything has been read."""
    rows = []
    with Logbook(folder, book, floor_bytes=0) as logbook:
        for text in (SEARCHES[0], *SEARCHES):
            start = time.perf_counter()
            count = len(logbook.search.find(text)["visits"])
            what = "the first search after a start" if not rows else f"a search for `{text}`, {count} visits shown"
            rows.append((what, results.time_text(time.perf_counter() - start), "" if not rows else "100 ms"))
    return rows


def an_evening(folder: Path, book: dict[str, Any]) -> float:
    """Twelve sheets on top of what is on file, including the start of the printing children [s]."""
    with tempfile.TemporaryDirectory(dir=folder.parent) as place:
        copied = Path(place) / "layby"
        shutil.copytree(folder, copied, ignore=shutil.ignore_patterns("*.lock"))
        with Logbook(copied, book, floor_bytes=0) as logbook:
            desk = Desk(logbook, book)
            for number in range(SHEETS):
                visit = copy.deepcopy(PAIR)
                visit["id"] = uuid7(STARTED_MS + number * 60_000, 100 + number)
                visit["vehicle"] = {"id": f"v{number}", "plate": f"AC {100 + number}"}
                desk.file(operations(visit, desk.phone))
            start = time.perf_counter()
            rows = evening.make_sheets(logbook, SheetRecords(logbook), DAY, book)
            assert [row["state"] for row in rows] == ["made"] * SHEETS, rows
            return time.perf_counter() - start


def main() -> None:
    """Measure, print and write down."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--few", type=int, default=1000)
    parser.add_argument("--many", type=int, default=100_000)
    parser.add_argument("--place", type=Path, help="a folder that keeps what was filled")
    asked = parser.parse_args()
    run = results.Run.begin(f"python -m tests.bench.bench_long_life --few {asked.few} --many {asked.many}")
    book = books.load()
    refrigerant.saturation_temperature_c("R134a", 300.0)
    with tempfile.TemporaryDirectory() as place:
        few, many = ((asked.place or Path(place)) / f"visits-{count}" for count in (asked.few, asked.many))
        fill(few, asked.few, book)
        fill(many, asked.many, book)
        rows = [starts(few, many)]
        small, large = costs_with(few, many, book, asked.many)
        filing = results.ratio(large[1], small[1])
        rows.append(("filing a visit of ten operations, by the processor", filing, "1.25 times"))
        evenings = [an_evening(folder, book) for folder in (few, many)]
        rows.append((f"an evening of {SHEETS} sheets", results.ratio(*evenings[::-1]), "4 s on a quiet machine"))
        rows += searches(many, book)
    results.report(results.BENCH, "A long life", run, rows)


if __name__ == "__main__":
    main()
