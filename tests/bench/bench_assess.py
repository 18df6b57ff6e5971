"""How long it takes to judge one visit of two tests, warm, compared with checking the same visit against its schema.

Run by hand: `python -m tests.bench.bench_assess`. The limit is 2 times. The desk's ideal cycle is left out, as it is on
the phone. Nothing here decides pass or fail.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from typing import Any

from sync import rulebook
from sync.kernel.assessment import assess
from sync.wire.schemas import check_visit
from tests.bench import results
from tests.support.random_visits import visit as random_visit

VISITS = 200
ROUNDS = 20


def duration(work: Callable[[Any, Any], Any], visit: Any, books: Any) -> float:
    """One call by the clock [s]."""
    start = time.perf_counter()
    work(visit, books)
    return time.perf_counter() - start


def turns(visit: Any, books: Any) -> tuple[list[float], list[float]]:
    """Judging and checking a visit, in turn [s per round each]."""
    judging, checking = [], []
    for _ in range(ROUNDS):
        judging.append(duration(assess, visit, books))
        checking.append(duration(check_visit, visit, books))
    return judging, checking


def main() -> None:
    """Measure, print and write down."""
    run = results.Run.begin("python -m tests.bench.bench_assess")
    books = rulebook.load()
    visits = [visit for visit in map(random_visit, range(2 * VISITS)) if len(visit["tests"]) == 2][:VISITS]
    for visit in visits:
        assess(visit, books)
        assert check_visit(visit, books) == []
    costs = [turns(visit, books) for visit in visits]
    judged = statistics.median(statistics.median(judging) for judging, _ in costs)
    checked = statistics.median(statistics.median(checking) for _, checking in costs)
    slowest = max(min(judging) for judging, _ in costs)
    rows = [
        (f"judging a visit of two tests, against checking its shape; medians of {VISITS} visits",
         results.ratio(judged, checked), "2 times"),
        ("the visit that takes longest to judge, at its best", results.time_text(slowest), ""),
    ]
    results.report(results.BENCH, "Judging a visit", run, rows)


if __name__ == "__main__":
    main()
