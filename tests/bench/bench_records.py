"""What filing costs: with few and with many visits on file, and against the least that any filing would have to do.

Run by hand: `.venv/bin/python tests/bench/bench_records.py [--few 100] [--many 100000] [--visits 300] [--ops 30]`.
The bars are 1.25 times for 100,000 visits against 100, and 2 times for a backlog of 300 visits of 30 operations. Few
and many take turns, so that a busy machine slows both; the clock and the processor's work are both printed. Filling a
folder with 100,000 visits, through the logbook itself, takes some minutes; `--place` keeps it for the next run.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from sync import rulebook as books
from sync.records.logbook import Logbook
from sync.records.receipts import next_seq
from sync.wire.json_parsing import parse
from sync.wire.schemas import check_op
from sync.work.intake import LINES_MOST, take
from tests.support.ops import JUNE_12, Phone, line_of, uuid7

DAY_MS = 86_400_000
VISITS_A_DAY = 8


def visit_lines(number: int, ops: int) -> list[bytes]:
    """The op lines of one visit: eight a day, ten years and more back, from one phone."""
    ms = JUNE_12 - 4000 * DAY_MS + number // VISITS_A_DAY * DAY_MS + number % VISITS_A_DAY * 3_600_000
    phone = Phone("a1de", ms)
    phone.seq = number * ops
    visit = uuid7(ms, number)
    made = [phone.opening(visit), phone.plate(visit, f"P{number}")]
    readings = {"low_kpa_g": 150, "high_kpa_g": 1240, "vent_c": 6.5}
    made += [phone.test(visit, f"t{place}", **readings) for place in range(ops - 2)]
    return [line_of(op)[:-1] for op in made]


Cost = tuple[float, float]


def now() -> Cost:
    """The clock and the processor's work of this process [s, s]."""
    return time.perf_counter(), time.process_time()


def filed(logbook: Logbook, lines: list[bytes]) -> Cost:
    """How long one batch takes."""
    start = now()
    results = take(logbook, lines, JUNE_12)
    end = now()
    assert {result["status"] for result in results} == {"accepted"}
    return end[0] - start[0], end[1] - start[1]


def fill(folder: Path, on_file: int, book: dict[str, Any]) -> None:
    """A folder with so many visits of three operations, filed in batches as a phone sends them; kept when whole."""
    done = folder / "filled.txt"
    if done.exists():
        return
    with Logbook(folder, book, floor_bytes=0) as logbook:
        for start in range(0, on_file, LINES_MOST // 3):
            numbers = range(start, min(start + LINES_MOST // 3, on_file))
            filed(logbook, [line for number in numbers for line in visit_lines(number, 3)])
    done.write_text("")


def costs_with(few: Path, many: Path, book: dict[str, Any], on_file: int) -> tuple[Cost, Cost]:
    """The median costs of filing one visit of ten operations in each of two folders, turn by turn."""
    costs: tuple[list[Cost], list[Cost]] = ([], [])
    with Logbook(few, book, floor_bytes=0) as small, Logbook(many, book, floor_bytes=0) as large:
        first = on_file + next_seq(large, "a1de") // 10  # behind what earlier runs left in the folder
        for number in range(first, first + 400):
            lines = visit_lines(number, 10)
            for logbook, told in zip((small, large), costs, strict=True):
                told.append(filed(logbook, lines))
    small_cost, large_cost = (tuple(map(statistics.median, zip(*told, strict=True))) for told in costs)
    return (small_cost[0], small_cost[1]), (large_cost[0], large_cost[1])


def opening(folder: Path, book: dict[str, Any]) -> Cost:
    """The median cost of opening a folder that was closed in order."""
    costs = []
    for _ in range(5):
        start = now()
        with Logbook(folder, book, floor_bytes=0):
            end = now()
        costs.append((end[0] - start[0], end[1] - start[1]))
    return statistics.median(clock for clock, _ in costs), statistics.median(work for _, work in costs)


def least(batches: list[list[bytes]], book: dict[str, Any], folder: Path) -> Cost:
    """Parse, hash and validate each line, one fsynced append a batch."""
    start = now()
    with (folder / "plain.log").open("ab") as file:
        for batch in batches:
            for line in batch:
                assert hashlib.sha256(line[65:]).hexdigest().encode() == line[:64]
                assert check_op(parse(line[65:]), book) == []
            file.write(b"\n".join(batch) + b"\n")
            file.flush()
            os.fsync(file.fileno())
    end = now()
    return end[0] - start[0], end[1] - start[1]


def backlog(visits: int, ops: int, book: dict[str, Any], folder: Path) -> tuple[Cost, Cost]:
    """Filing a backlog with its pages written, and the least for the same batches."""
    lines = [line for number in range(visits) for line in visit_lines(number, ops)]
    batches = [lines[start : start + LINES_MOST] for start in range(0, len(lines), LINES_MOST)]
    floor = least(batches, book, folder)
    with Logbook(folder / "logbook", book, floor_bytes=0) as logbook:
        start = now()
        for batch in batches:
            filed(logbook, batch)
        logbook.flush()
        end = now()
    return (end[0] - start[0], end[1] - start[1]), floor


def told(what: str, one: Cost, other: Cost) -> None:
    """Two costs and how many times the one the other is."""
    for name, mine, theirs in zip(("clock", "processor"), one, other, strict=True):
        print(f"{what}, {name}: {mine * 1e3:.2f} ms against {theirs * 1e3:.2f} ms, {mine / theirs:.2f} times")


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--few", type=int, default=100)
    parser.add_argument("--many", type=int, default=100_000)
    parser.add_argument("--visits", type=int, default=300)
    parser.add_argument("--ops", type=int, default=30)
    parser.add_argument("--place", type=Path, help="a folder that keeps what was filled")
    given = parser.parse_args()
    book = books.load()
    check_op({}, book)
    with tempfile.TemporaryDirectory() as place:
        few = (given.place or Path(place)) / f"visits-{given.few}"
        many = (given.place or Path(place)) / f"visits-{given.many}"
        for folder, count in ((few, given.few), (many, given.many)):
            fill(folder, count, book)
        told(f"opening a folder with {given.many} on file against {given.few}", opening(many, book), opening(few, book))
        small, large = costs_with(few, many, book, given.many)
        told(f"a visit of 10 with {given.many} on file against {given.few}", large, small)
        taken, floor = backlog(given.visits, given.ops, book, Path(place))
        told(f"a backlog of {given.visits} x {given.ops} against the least", taken, floor)


if __name__ == "__main__":
    main()
