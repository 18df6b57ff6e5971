"""What filing costs: with few and with many visits on file, and compared with the least any filing has to do.

Run by hand: `python -m tests.bench.bench_records [--few 100] [--many 100000] [--visits 300] [--ops 30]`. The compared
runs take turns, so that a busy machine slows both; both the clock and the processor's work are measured. Filling a
folder with 100,000 visits, through the logbook itself, takes some minutes; `--place` keeps it for the next run. Nothing
here decides pass or fail.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any, BinaryIO

from sync import rulebook as books
from sync.records.logbook import Logbook
from sync.records.receipts import next_seq
from sync.wire.json_parsing import parse
from sync.wire.schemas import check_op
from sync.work.intake import LINES_MOST, take
from tests.bench import results
from tests.support.ops import JUNE_12, Phone, line_of, uuid7

DAY_MS = 86_400_000
VISITS_A_DAY = 8


def visit_lines(number: int, ops: int, device: str = "a1de") -> list[bytes]:
    """The op lines of one visit: eight a day, going back ten years and more, from one phone."""
    ms = JUNE_12 - 4000 * DAY_MS + number // VISITS_A_DAY * DAY_MS + number % VISITS_A_DAY * 3_600_000
    phone = Phone(device, ms)
    phone.seq = number * ops
    visit = uuid7(ms, number)
    entries = [phone.opening(visit), phone.plate(visit, f"P{number}")]
    readings = {"low_kpa_g": 150, "high_kpa_g": 1240, "vent_c": 6.5}
    entries += [phone.test(visit, f"t{place}", **readings) for place in range(ops - 2)]
    return [line_of(op)[:-1] for op in entries]


Cost = tuple[float, float]


def now() -> Cost:
    """The clock and the processor's work of this process [s, s]."""
    return time.perf_counter(), time.process_time()


def since(start: Cost) -> Cost:
    """What has been spent since."""
    end = now()
    return end[0] - start[0], end[1] - start[1]


def file_batch(logbook: Logbook, lines: list[bytes]) -> Cost:
    """How long one batch takes."""
    start = now()
    answers = take(logbook, lines, JUNE_12)
    cost = since(start)
    assert {answer["status"] for answer in answers} == {"accepted"}
    return cost


def fill(folder: Path, on_file: int, book: dict[str, Any]) -> None:
    """A folder with this many visits of three operations, filed in batches as a phone sends; kept once complete."""
    mark = folder / "filled.txt"
    if mark.exists():
        return
    with Logbook(folder, book, floor_bytes=0) as logbook:
        for start in range(0, on_file, LINES_MOST // 3):
            numbers = range(start, min(start + LINES_MOST // 3, on_file))
            file_batch(logbook, [line for number in numbers for line in visit_lines(number, 3)])
    mark.write_text("")


def middle(costs: list[Cost]) -> Cost:
    """The median of some costs."""
    return statistics.median(clock for clock, _ in costs), statistics.median(work for _, work in costs)


def costs_with(few: Path, many: Path, book: dict[str, Any], on_file: int) -> tuple[Cost, Cost]:
    """The median costs of filing one visit of ten operations in each of two folders, in turn."""
    costs: tuple[list[Cost], list[Cost]] = ([], [])
    with Logbook(few, book, floor_bytes=0) as small, Logbook(many, book, floor_bytes=0) as large:
        first = on_file + next_seq(large, "a1de") // 10  # after what earlier runs left in the folder
        for number in range(first, first + 400):
            lines = visit_lines(number, 10)
            for logbook, own in zip((small, large), costs, strict=True):
                own.append(file_batch(logbook, lines))
    return middle(costs[0]), middle(costs[1])


def opening(folder: Path, book: dict[str, Any]) -> Cost:
    """The median cost of opening a folder that was closed properly."""
    costs = []
    for _ in range(5):
        start = now()
        with Logbook(folder, book, floor_bytes=0):
            costs.append(since(start))
    return middle(costs)


def least(batch: list[bytes], book: dict[str, Any], log: BinaryIO) -> Cost:
    """Parse, hash and validate each line of a batch, and append it with one fsync."""
    start = now()
    for line in batch:
        assert hashlib.sha256(line[65:]).hexdigest().encode() == line[:64]
        assert check_op(parse(line[65:]), book) == []
    log.write(b"\n".join(batch) + b"\n")
    log.flush()
    os.fsync(log.fileno())
    return since(start)


def total(costs: list[Cost]) -> Cost:
    """The sum of some costs."""
    return sum(clock for clock, _ in costs), sum(work for _, work in costs)


def backlog(visits: int, ops: int, book: dict[str, Any], folder: Path) -> tuple[Cost, Cost]:
    """Filing a backlog with its pages written, and the least for the same batches, batch by batch in turn."""
    lines = [line for number in range(visits) for line in visit_lines(number, ops)]
    filing, floor = [], []
    with (folder / "plain.log").open("wb") as log, Logbook(folder / "logbook", book, floor_bytes=0) as logbook:
        for start in range(0, len(lines), LINES_MOST):
            batch = lines[start : start + LINES_MOST]
            floor.append(least(batch, book, log))
            filing.append(file_batch(logbook, batch))
        before = now()
        logbook.flush()
        filing.append(since(before))
    return total(filing), total(floor)


def rows_of(what: str, cost: Cost, other: Cost, bar: str) -> list[results.Row]:
    """Two costs and how many times the second the first is, by the clock and by the processor."""
    pairs = zip(("clock", "processor"), cost, other, strict=True)
    return [(f"{what}, by the {name}", results.ratio(one, two), bar) for name, one, two in pairs]


def main() -> None:
    """Measure, print and write down."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--few", type=int, default=100)
    parser.add_argument("--many", type=int, default=100_000)
    parser.add_argument("--visits", type=int, default=300)
    parser.add_argument("--ops", type=int, default=30)
    parser.add_argument("--place", type=Path, help="a folder that keeps what was filled")
    asked = parser.parse_args()
    few, many = asked.few, asked.many
    run = results.Run.begin(f"python -m tests.bench.bench_records --few {few} --many {many}"
                            f" --visits {asked.visits} --ops {asked.ops}")  # fmt: skip
    book = books.load()
    check_op({}, book)
    with tempfile.TemporaryDirectory() as place:
        small, large = ((asked.place or Path(place)) / f"visits-{count}" for count in (few, many))
        for folder, count in ((small, few), (large, many)):
            fill(folder, count, book)
        on_file = f"with {many:,} visits on file, against {few:,}"
        clock, work = map(results.time_text, opening(large, book))
        costs = costs_with(small, large, book, many)
        taken = backlog(asked.visits, asked.ops, book, Path(place))
    rows = rows_of(f"filing a visit of 10 operations {on_file}", costs[1], costs[0], "1.25 times")
    what = f"filing a backlog of {asked.visits} visits of {asked.ops} operations, against the least"
    rows += rows_of(what, *taken, "2 times")
    opened = f"{clock} by the clock, {work} by the processor"
    rows.append((f"opening a folder with {many:,} visits on file", opened, ""))
    least_of = "The least: parsing, hashing and validating the same batches, and one fsynced append each."
    results.report(results.BENCH, "Filing", run, rows, least_of)


if __name__ == "__main__":
    main()
