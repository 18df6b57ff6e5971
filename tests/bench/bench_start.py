"""How long `layby --help` takes, and `layby serve` on an empty folder until it answers.

Run by hand: `python -m tests.bench.bench_start`. Nothing here decides pass or fail.
"""

from __future__ import annotations

import os
import subprocess
import tempfile
import time
from pathlib import Path

from tests.bench import results
from tests.support.service import LAYBY, ROOT, Service

ROUNDS = 9


def help_cost() -> tuple[float, float]:
    """From the command to its end by the clock, and its work by the processor [s, s]."""
    start, before = time.perf_counter(), os.times()
    subprocess.run([LAYBY, "--help"], cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
    duration, after = time.perf_counter() - start, os.times()
    return duration, sum(after[2:4]) - sum(before[2:4])


def serve_duration(folder: Path) -> float:
    """From the command to the first answer, requested every 50 ms [s]."""
    service = Service(folder)
    start = time.perf_counter()
    service.start()
    duration = time.perf_counter() - start
    service.stop()
    return duration


def main() -> None:
    """Measure, print and write down."""
    run = results.Run.begin("python -m tests.bench.bench_start")
    clock, work = zip(*(help_cost() for _ in range(ROUNDS)), strict=True)
    with tempfile.TemporaryDirectory() as place:
        serving = [serve_duration(Path(place) / f"layby-{number}") for number in range(ROUNDS)]
    rows = [
        ("`layby --help`, by the clock", results.spread(clock), "0.3 s"),
        ("`layby --help`, by the processor", results.spread(work), ""),
        ("`layby serve` on an empty folder until it answers, asked every 50 ms", results.spread(serving), "1.5 s"),
    ]
    results.report(results.BENCH, "Starting", run, rows)


if __name__ == "__main__":
    main()
