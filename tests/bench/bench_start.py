"""How long `layby --help` takes, and `layby serve` on an empty folder until it answers.

Run by hand: `python -m tests.bench.bench_start`. Nothing here decides pass or fail.
"""

from __future__ import annotations

import subprocess
import tempfile
import time
from pathlib import Path

from tests.bench import results
from tests.conftest import LAYBY, ROOT, Service

ROUNDS = 9


def help_duration() -> float:
    """From the command to its end [s]."""
    start = time.perf_counter()
    subprocess.run([LAYBY, "--help"], cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def serve_duration(folder: Path) -> float:
    """From the command to the first answer, asked for every 50 ms [s]."""
    service = Service(folder)
    start = time.perf_counter()
    service.start()
    duration = time.perf_counter() - start
    service.stop()
    return duration


def main() -> None:
    """Measure, print and write down."""
    run = results.Run.begin("python -m tests.bench.bench_start")
    helping = [help_duration() for _ in range(ROUNDS)]
    with tempfile.TemporaryDirectory() as place:
        serving = [serve_duration(Path(place) / f"layby-{number}") for number in range(ROUNDS)]
    rows = [
        ("`layby --help`", results.spread(helping), "0.3 s"),
        ("`layby serve` on an empty folder until it answers, asked every 50 ms", results.spread(serving), "1.5 s"),
    ]
    results.report(results.BENCH, "Starting", run, rows)


if __name__ == "__main__":
    main()
