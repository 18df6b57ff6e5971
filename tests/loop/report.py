"""What the judgement makes of fresh random cars, printed and written down by a command; it judges nothing itself.

    python -m tests.loop.report --pairs 600 --causes 330 --spread 200 --seed 1

Work is shared by two processes; each figure is printed with the number it rests on.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from functools import cache
from multiprocessing import get_context
from typing import Any

from tests.bench import results
from tests.loop.faultcases import CAUSES, READING_SETS, case
from tests.loop.figures import cause_lines, cause_table, pair_lines, pair_table
from tests.loop.fluids import fluid
from tests.loop.spread import sample, tables
from tests.loop.visits import CHANGES, pair

Json = dict[str, Any]
PROCESSES = 2
# How often each change is drawn: half of the pairs are unchanged, so that a false claim is counted on many cars.
WEIGHTS = {
    "nothing": 8,
    "cleaned": 5,
    "fan_repaired": 1,
    "filter": 1,
    "leak": 2,
    "recharge": 2,
    "wet_face": 1,
    "dirtied": 1,
}
KEPT = ("what", "unchanged", "kind", "metering", "regulated", "work_share_high_kpa", "raw_change_high_kpa")
# Each kind of figure: its section in the results, its table of bars, all its lines.
KINDS = {
    "pairs": ("Before and after", pair_table, pair_lines),
    "causes": ("Causes", cause_table, cause_lines),
}
SLOTS = [what for what in CHANGES for _ in range(WEIGHTS[what])]


@cache
def _rulebook() -> Any:
    from sync.rulebook import load

    return load()


def _judged(visit: Json) -> Json:
    """The assessment of a visit after a trip through JSON, as `layby assess` would read it."""
    from sync.kernel.assessment import assess

    result: Json = assess(json.loads(json.dumps(visit)), _rulebook())
    return result


def _entering(visit: Json) -> str:
    """What the two tests know of the air that enters the coil."""
    known = []
    for test in visit["tests"]:
        if test["conditions"]["air"] == "outside":
            known.append("outside air" if "humidity_pct" in test["conditions"] else "outside air, no humidity")
        elif "return_air_c" not in test["readings"]:
            known.append("no return air")
        elif "return_air_humidity_pct" in test["readings"]:
            known.append("return air and its humidity")
        else:
            known.append("return air, no humidity of it")
    return known[0] if known[0] == known[1] else "unlike"


def pair_row(seed: int) -> Json:
    """One pair judged: its truth and what was said of it."""
    what = SLOTS[seed % len(SLOTS)]
    like = what == "wet_face" or seed % 7 != 0
    visit, truth = pair(seed, what, like)
    said = _judged(visit).get("comparison") or {}
    high = said.get("high_side") or {}
    row = {name: truth[name] for name in KEPT}
    row |= {"seed": seed, "like": like, "verdict": said.get("verdict"), "reasons": said.get("reasons") or []}
    row["entering"] = _entering(visit)
    row |= {"interval": high.get("interval_kpa"), "point": high.get("work_share_kpa"), "high": high.get("verdict")}
    row["split"] = (said.get("condenser_split") or {}).get("interval_k")
    row["vent"] = (said.get("vent") or {}).get("interval_k")
    return row | {"split_true": truth["work_share_split_k"], "vent_true": truth["work_share_vent_k"]}


def cause_rows(seed: int) -> list[Json]:
    """One car with a cause, judged from each of the three sets of readings."""
    cause = CAUSES[seed % len(CAUSES)]
    rows = []
    for readings in READING_SETS:
        visit, truth = case(seed, cause, None, readings)
        said = _judged(visit)["tests"][0]
        ranked = [entry["id"] for entry in said["causes"]]
        row = {"cause": cause, "readings": readings, "shows": truth["shows"], "ranked": ranked, "kind": truth["kind"]}
        rows.append(row | {"seed": seed, "severity": truth["severity"], "undecided": said["undecided"]})
    return rows


def run(work: Callable[[int], Any], seeds: range) -> list[Any]:
    """Results of work over seeds from two processes, in the order of the seeds."""
    if not seeds:
        return []
    for name in ("R134a", "R1234yf"):
        fluid(name)
    with get_context("fork").Pool(PROCESSES) as pool:
        return list(pool.imap(work, seeds, chunksize=8))


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="What the judgement makes of fresh random cars of the loop model.")
    parser.add_argument("--pairs", type=int, default=0, help="pairs of tests to judge")
    parser.add_argument(
        "--causes", type=int, default=0, help="cars with a known cause to judge, from three sets of readings"
    )
    parser.add_argument("--spread", type=int, default=0, help="cars to tabulate sensitivities and healthy bands from")
    parser.add_argument("--seed", type=int, default=1, help="another number draws other cars")
    parser.add_argument("--rows", action="store_true", help="print every judged row as JSON as well")
    parser.add_argument("--write", action="store_true", help="write the figures into tests/loop/RESULTS.md, too")
    return parser.parse_args()


def _command(wanted: argparse.Namespace) -> str:
    """The command that gives these figures again."""
    counts = [f"--{name} {vars(wanted)[name]}" for name in ("pairs", "causes") if vars(wanted)[name]]
    return " ".join(["python -m tests.loop.report", *counts, f"--seed {wanted.seed} --write"])


def main() -> None:
    """Print what was asked for, and write down what has a bar where that is wanted."""
    wanted = _arguments()
    begun = results.Run.begin(_command(wanted))
    seeds = [range(wanted.seed * 1_000_000, wanted.seed * 1_000_000 + count)
             for count in (wanted.pairs, wanted.causes, wanted.spread)]  # fmt: skip
    rows = {"pairs": run(pair_row, seeds[0]), "causes": _flat(run(cause_rows, seeds[1]))}
    lines: list[str] = []
    for kind, judged in rows.items():
        if judged:
            heading, table_of, lines_of = KINDS[kind]
            lines += [json.dumps(row) for row in judged if wanted.rows] + lines_of(judged) + [""]
            if wanted.write:
                results.LOOP.put(heading, begun, results.table(table_of(judged)), results.text_block(lines_of(judged)))
    if wanted.spread:
        lines += tables(_flat(run(sample, seeds[2])))
    sys.stdout.write("\n".join(lines) + "\n")


def _flat(lists: list[list[Json]]) -> list[Json]:
    return [row for rows in lists for row in rows]


if __name__ == "__main__":
    main()
