"""How long the judgement of one visit of two tests takes, warm, without the desk-only cycle.

Run by hand: `python -m tests.bench.bench_assess`. Nothing here decides pass or fail.
"""

from __future__ import annotations

import statistics
import time

from sync import rulebook
from sync.kernel import assessment
from tests.support.random_visits import visit


def main() -> None:
    """Print the median over 200 random visits of two tests, each judged 20 times."""
    books = rulebook.load()
    visits = [made for made in map(visit, range(400)) if len(made["tests"]) == 2][:200]
    for made in visits:
        assessment.assess(made, books)
    times = []
    for made in visits:
        start = time.perf_counter()
        for _ in range(20):
            assessment.assess(made, books)
        times.append((time.perf_counter() - start) / 20 * 1000)
    print(f"assess, two tests: median {statistics.median(times):.2f} ms, slowest {max(times):.2f} ms (bar 2 ms)")


if __name__ == "__main__":
    main()
