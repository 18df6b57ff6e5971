"""How the judgement does on cars it was not set on, printed and written down by a command; it judges nothing itself.

    python -m tests.loop.report --cases 1000 --pairs 400 --write

Everything is fitted on all worlds except one and reported on the one left out, in turn; published rows are left out one
maker at a time. What ships is fitted on all.
"""

from __future__ import annotations

import argparse
import sys
from typing import Any

from sync.rulebook import load
from tests.bench import results
from tests.worlds import figures
from tests.worlds.fit import Options, Row, fitted, row_of
from tests.worlds.judged import Judged, judged_cases, judged_pairs, judged_rows, judged_test
from tests.worlds.pairs import pairs
from tests.worlds.published import faulty_rows, healthy_rows
from tests.worlds.rule_of_thumb import visits
from tests.worlds.stock import NAMES, stock, stock_of, world_of

Json = dict[str, Any]
FIT_CASES = 2400
ONLY = ("leak", "recharge", "wet_face")
ONLY_PAIRS = 200


def _with(rulebook: Any, rows: list[list[Row]], without: str | None = None) -> Any:
    """The rulebook with its distribution fitted on these worlds' rows, and on published tables except one maker's."""
    return {**rulebook, "distribution": fitted(rows, rulebook, Options(), without)}


def _causes(rulebook: Any, rows: dict[str, list[Row]], seed: int, count: int) -> dict[str, dict[str, list[Judged]]]:
    """Each world's cases judged by a fit on the others."""
    by_world = {}
    for name in NAMES:
        others = [rows[other] for other in NAMES if other != name]
        by_world[name] = judged_cases(stock_of(name, seed + 1, count), _with(rulebook, others))
    return by_world


def _published(rulebook: Any, rows: dict[str, list[Row]]) -> list[figures.Row]:
    """Healthy rows of each maker judged by a fit without it; faults and the rule of thumb by what ships."""
    everything = list(rows.values())
    healthy = [row for row in healthy_rows(rulebook) if row.ambient is not None]
    makers = {}
    for maker in sorted({row.maker for row in healthy}):
        mine = [row for row in healthy if row.maker == maker]
        makers[maker] = judged_rows(mine, _with(rulebook, everything, maker))
    thumb = [Judged("healthy", *judged_test(visit, rulebook)) for visit in visits()]
    return figures.published_table(makers, judged_rows(faulty_rows(), rulebook), thumb)


def _pairs(rulebook: Any, seed: int, count: int) -> list[str]:
    by_world = {}
    for name in NAMES:
        world = world_of(name)
        mixed = judged_pairs(pairs(world, seed, count), rulebook)
        worst = {what: judged_pairs(pairs(world, seed, ONLY_PAIRS, what), rulebook) for what in ONLY}
        by_world[name] = (mixed, worst)
    return figures.pair_table(by_world)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="What the judgement makes of cars it was not set on.")
    parser.add_argument("--cases", type=int, default=0, help="single tests to judge of each world")
    parser.add_argument("--pairs", type=int, default=0, help="pairs of tests to judge of each world")
    parser.add_argument("--seed", type=int, default=11, help="fits on this seed, judges cases of the next")
    parser.add_argument("--write", action="store_true", help="write the figures into tests/loop/RESULTS.md, too")
    return parser.parse_args()


def main() -> None:
    """Print what was requested, and write it down if wanted."""
    wanted = _arguments()
    counts = [f"--{name} {vars(wanted)[name]}" for name in ("cases", "pairs") if vars(wanted)[name]]
    begun = results.Run.begin(" ".join(["python -m tests.loop.report", *counts, f"--seed {wanted.seed} --write"]))
    rulebook = load()
    parts: dict[str, list[str]] = {}
    if wanted.cases:
        cases = stock(wanted.seed, FIT_CASES)
        rows = {name: [row_of(case, rulebook) for case in cases[name]] for name in NAMES}
        by_world = _causes(rulebook, rows, wanted.seed, wanted.cases)
        tables = [figures.world_table(by_world, name, rulebook["causes"]["common"]) for name in figures.SETS]
        parts["Causes, each world left out"] = ["\n".join(table) for table in tables]
        parts["Faults that hardly show"] = ["\n".join(figures.hidden_lines(by_world))]
        parts["Published rows"] = [results.table(_published(rulebook, rows))]
    if wanted.pairs:
        parts["Before and after"] = ["\n".join(_pairs(rulebook, wanted.seed, wanted.pairs))]
    for heading, texts in parts.items():
        sys.stdout.write("\n\n".join([f"## {heading}", *texts]) + "\n\n")
        if wanted.write:
            results.LOOP.put(heading, begun, *texts)


if __name__ == "__main__":
    main()
