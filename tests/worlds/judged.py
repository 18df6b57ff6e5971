"""What the judgement says about cases, pairs and published rows, as rows for the figures; nothing is summed up here."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing import get_context
from typing import Any

from sync.kernel.assessment import assess
from sync.work.baselines import healthy_test
from tests.worlds.cases import Case
from tests.worlds.pairs import Pair
from tests.worlds.published import PublishedRow
from tests.worlds.writing import READING_SETS

Json = dict[str, Any]
PROCESSES = 2
MANY = 100  # from this many items on, two processes pay off
_rulebook: Any = None


@dataclass(frozen=True)
class Judged:
    """One test judged: its truth, the causes by weight, the set held open, and whether it shows in these readings.

    `effect` is how far the reading that moves most lies from the healthy twin's, in units of what can just be seen.
    """

    cause: str
    order: list[str]
    open_causes: list[str]
    shows: bool = True
    effect: float = 0.0
    about: str = ""


def judged_test(visit: Json, rulebook: Any) -> tuple[list[str], list[str]]:
    """The causes by weight, and the set held open, of a visit's one test, after a round trip through JSON."""
    [test] = assess(json.loads(json.dumps(visit)), rulebook)["tests"]
    order = [cause["id"] for cause in test["causes"]]
    return order, test["undecided"] or order[:1]


def _case(case: Case) -> dict[str, Judged]:
    """A case judged from each set of readings, and from lines with its own healthy test on file."""
    truth, rows = case.truth, {}
    for name in READING_SETS:
        order, open_causes = judged_test(case.visits[name], _rulebook)
        rows[name] = Judged(truth["cause"], order, open_causes, truth["shows"][name], truth["effects"][name])
    [test] = case.own["tests"]
    entry = healthy_test(case.own, test, _rulebook)  # type: ignore[arg-type]
    visit = case.visits["lines"]
    with_own = {**visit, "vehicle": {**visit["vehicle"], "baseline": {"entries": [entry]}}}
    order, open_causes = judged_test(with_own, _rulebook)
    rows["own"] = Judged(truth["cause"], order, open_causes, truth["shows"]["lines"], truth["effects"]["lines"])
    return rows


def _pair(pair: Pair) -> Json:
    """A pair judged: the truth and what was said about it."""
    comparison = assess(json.loads(json.dumps(pair.visit)), _rulebook)["comparison"]
    if comparison is None:
        raise ValueError("a pair without a comparison")
    high = comparison["high_side"]
    return {
        **pair.truth,
        "verdict": comparison["verdict"],
        "interval": high["interval_kpa"],
        "point": high["work_share_kpa"],
        "reasons": comparison["reasons"],
    }


def _shared(work: Callable[[Any], Any], items: Sequence[Any], rulebook: Any) -> list[Any]:
    """Process items in order, using two processes if there are many."""
    global _rulebook
    _rulebook = rulebook
    if len(items) < MANY:
        return [work(item) for item in items]
    with get_context("fork").Pool(PROCESSES) as pool:
        return pool.map(work, items, chunksize=16)


def judged_cases(cases: Sequence[Case], rulebook: Any) -> dict[str, list[Judged]]:
    """Cases judged: a list for each set of readings, and `own` for lines with the car's own healthy test on file."""
    rows = _shared(_case, cases, rulebook)
    return {name: [row[name] for row in rows] for name in (*READING_SETS, "own")}


def judged_pairs(pairs: Sequence[Pair], rulebook: Any) -> list[Json]:
    """Pairs judged, with their truth."""
    return _shared(_pair, pairs, rulebook)


def judged_rows(rows: Sequence[PublishedRow], rulebook: Any) -> list[Judged]:
    """Published rows judged; `about` is the end of their ranges."""
    judged = []
    for row in rows:
        order, open_causes = judged_test(row.visit, rulebook)
        judged.append(Judged(row.cause, order, open_causes, about=row.end))
    return judged
