"""What filing costs: with few and with many visits on file, and against the least that any filing would have to do.

Run by hand: `.venv/bin/python tests/bench/bench_records.py [--few 100] [--many 2000] [--visits 60] [--ops 30]`.
The bars are those for 100 against 100,000 visits (1.25 times) and for 300 visits of 30 operations (2 times). On a busy
machine the work of the processor says more than the clock; both are printed.
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
from sync.border import parse
from sync.intake import LINES_MOST, take
from sync.logbook import Logbook
from sync.schemas import check_op
from tests.ops import JUNE_12, Phone, line_of, uuid7

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


def cost_with(on_file: int, book: dict[str, Any], folder: Path) -> Cost:
    """The median cost of filing one visit of ten operations with so many on file."""
    with Logbook(folder, book, floor_bytes=0) as logbook:
        for number in range(on_file):
            filed(logbook, visit_lines(number, 3))
        logbook.flush()
        costs = [filed(logbook, visit_lines(on_file + number, 10)) for number in range(200)]
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
    parser.add_argument("--many", type=int, default=2000)
    parser.add_argument("--visits", type=int, default=60)
    parser.add_argument("--ops", type=int, default=30)
    given = parser.parse_args()
    book = books.load()
    check_op({}, book)
    with tempfile.TemporaryDirectory() as place:
        few = cost_with(given.few, book, Path(place) / "few")
        many = cost_with(given.many, book, Path(place) / "many")
        told(f"a visit of 10 with {given.many} on file against {given.few}", many, few)
        taken, floor = backlog(given.visits, given.ops, book, Path(place))
        told(f"a backlog of {given.visits} x {given.ops} against the least", taken, floor)


if __name__ == "__main__":
    main()
