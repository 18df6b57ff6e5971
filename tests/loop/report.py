"""What the judgement makes of fresh random cars, printed from a command; it judges nothing itself.

    python -m tests.loop.report --pairs 600 --causes 330 --spread 200 --seed 1

Work is shared by two processes; each figure is printed with the number it rests on.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from functools import cache
from multiprocessing import get_context
from statistics import median
from typing import Any

from tests.loop.faultcases import CAUSES, READING_SETS, case
from tests.loop.fluids import fluid
from tests.loop.spread import sample, tables
from tests.loop.visits import CHANGES, pair

Json = dict[str, Any]
PROCESSES = 2
LARGE_KPA = 300.0
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


def run(work: Callable[[int], Any], seeds: Iterable[int]) -> list[Any]:
    """Results of work over seeds from two processes, in the order of the seeds."""
    for name in ("R134a", "R1234yf"):
        fluid(name)
    with get_context("fork").Pool(PROCESSES) as pool:
        return list(pool.imap(work, seeds, chunksize=8))


def _share(rows: list[Json], true: Callable[[Json], bool]) -> str:
    if not rows:
        return "   -   (0)"
    hits = sum(1 for row in rows if true(row))
    return f"{100.0 * hits / len(rows):5.1f} % ({hits} of {len(rows)})"


def _covers(name: str, truth: str) -> Callable[[Json], bool]:
    return lambda row: bool(row[name][0] <= row[truth] <= row[name][1])


def pair_lines(rows: list[Json]) -> list[str]:
    """The figures of the before and after, as lines to print."""
    judged = [row for row in rows if row["interval"]]
    dry = [row for row in rows if row["what"] != "wet_face"]
    like = [row for row in dry if row["like"]]
    widths = [row["interval"][1] - row["interval"][0] for row in judged]
    nothing = [row for row in judged if row["what"] == "nothing"]
    large = [row for row in judged if abs(row["work_share_high_kpa"]) > LARGE_KPA]
    covers = _covers("interval", "work_share_high_kpa")
    lines = [
        f"pairs {len(rows)}, judged {len(judged)}",
        f"like settings, judged                {_share(like, lambda row: bool(row['interval']))}",
        f"coverage, all judged                 {_share(judged, covers)}",
        f"coverage, unchanged                  {_share([row for row in judged if row['unchanged']], covers)}",
        f"coverage, changed                    {_share([row for row in judged if not row['unchanged']], covers)}",
        f"interval width                       {_widths(widths)}",
        f"nothing done, better or worse said   {_share(nothing, _claims('verdict'))}",
        f"nothing done, high side claimed      {_share(nothing, _claims('high'))}",
        f"true change above 300 kPa, detected  {_share(large, _found)}",
        f"leak called better                   {_verdicts(judged, 'leak', 'better')}",
        f"recharge called worse                {_verdicts(judged, 'recharge', 'worse')}",
        f"wet face called better               {_verdicts(rows, 'wet_face', 'better')}",
    ]
    for name, truth in (("split", "split_true"), ("vent", "vent_true")):
        some = [row for row in rows if row[name]]
        lines.append(f"coverage, {name:5}                      {_share(some, _covers(name, truth))}")
    return lines + _by_kind(judged) + _why_not(like)


def _widths(widths: list[float]) -> str:
    if not widths:
        return "-"
    ordered = sorted(widths)
    tenth = ordered[len(ordered) // 10], ordered[len(ordered) * 9 // 10]
    return f"median {median(widths):.0f} kPa, from {tenth[0]:.0f} to {tenth[1]:.0f} (10th, 90th percentile)"


def _claims(name: str) -> Callable[[Json], bool]:
    return lambda row: row[name] in ("better", "worse")


def _found(row: Json) -> bool:
    """Whether the interval leaves zero on the side of the true change."""
    low, high = row["interval"]
    return bool(high < 0.0) if row["work_share_high_kpa"] < 0.0 else bool(low > 0.0)


def _verdicts(rows: list[Json], what: str, verdict: str) -> str:
    return _share([row for row in rows if row["what"] == what], lambda row: bool(row["verdict"] == verdict))


def _by_kind(judged: list[Json]) -> list[str]:
    """Coverage and width by kind of regulation, within and out of stroke, and by what was done."""
    covers = _covers("interval", "work_share_high_kpa")
    groups: dict[str, list[Json]] = defaultdict(list)
    for row in judged:
        stroke = "regulated" if all(row["regulated"]) else "out of stroke"
        groups[f"{row['kind']}, {stroke}"].append(row)
        groups[f"done: {row['what']}"].append(row)
        groups[f"known: {row['entering']}"].append(row)
    lines = ["", "by regulation, work and what is known: coverage; median width; median error of the point [kPa]"]
    for name in sorted(groups):
        rows = groups[name]
        width = median(row["interval"][1] - row["interval"][0] for row in rows)
        error = median(abs(row["point"] - row["work_share_high_kpa"]) for row in rows)
        lines.append(f"  {name:34} {_share(rows, covers):24} {width:6.0f} {error:6.0f}")
    return lines


def _why_not(like: list[Json]) -> list[str]:
    reasons = Counter(code for row in like if not row["interval"] for code in row["reasons"])
    missed = ", ".join(f"{code} {count}" for code, count in reasons.most_common())
    return ["", f"like settings, not judged because of: {missed or 'none'}"]


def cause_lines(rows: list[Json]) -> list[str]:
    """Hits of the ranking and the confusion table, as lines to print."""
    lines = []
    for readings in READING_SETS:
        some = [row for row in rows if row["readings"] == readings and row["shows"] and row["ranked"]]
        lines.append(
            f"{readings:7} first {_share(some, lambda row: row['ranked'][0] == row['cause'])}"
            f"   in two {_share(some, lambda row: row['cause'] in row['ranked'][:2])}"
        )
    for readings in READING_SETS:
        lines += ["", f"{readings}: true cause down, first in the ranking across [%], last: in two"]
        lines += _confusion([row for row in rows if row["readings"] == readings and row["shows"] and row["ranked"]])
    return lines


def pair_figures(rows: list[Json]) -> dict[str, float | None]:
    """The figures that have a bar to reach, as shares from 0 to 1 and kPa; None where nothing was counted."""
    judged = [row for row in rows if row["interval"]]
    like = [row for row in rows if row["like"] and row["what"] != "wet_face"]
    covers = _covers("interval", "work_share_high_kpa")
    large = [row for row in judged if abs(row["work_share_high_kpa"]) > LARGE_KPA]
    widths = [row["interval"][1] - row["interval"][0] for row in judged]
    return {
        "coverage": _part(judged, covers),
        "coverage_unchanged": _part([row for row in judged if row["unchanged"]], covers),
        "like_judged": _part(like, lambda row: bool(row["interval"])),
        "width_kpa": median(widths) if widths else None,
        "false_claims": _part([row for row in judged if row["what"] == "nothing"], _claims("verdict")),
        "detected": _part(large, _found),
        "leak_better": _part([row for row in judged if row["what"] == "leak"], _says("better")),
        "recharge_worse": _part([row for row in judged if row["what"] == "recharge"], _says("worse")),
        "wet_face_better": _part([row for row in rows if row["what"] == "wet_face"], _says("better")),
    }


def cause_figures(rows: list[Json]) -> dict[str, float | None]:
    """True cause first and in the first two, by set of readings, among cases that show."""
    out: dict[str, float | None] = {}
    for readings in READING_SETS:
        some = [row for row in rows if row["readings"] == readings and row["shows"] and row["ranked"]]
        out[f"{readings}_first"] = _part(some, lambda row: bool(row["ranked"][0] == row["cause"]))
        out[f"{readings}_in_two"] = _part(some, lambda row: row["cause"] in row["ranked"][:2])
    return out


def _part(rows: list[Json], true: Callable[[Json], bool]) -> float | None:
    return sum(1 for row in rows if true(row)) / len(rows) if rows else None


def _says(verdict: str) -> Callable[[Json], bool]:
    return lambda row: bool(row["verdict"] == verdict)


def _confusion(rows: list[Json]) -> list[str]:
    head = " " * 20 + " ".join(f"{cause[:7]:>7}" for cause in CAUSES)
    lines = [head]
    for cause in CAUSES:
        some = [row for row in rows if row["cause"] == cause]
        if not some:
            continue
        first = Counter(row["ranked"][0] for row in some)
        cells = " ".join(f"{100.0 * first[other] / len(some):7.0f}" for other in CAUSES)
        lines.append(f"{cause:20}{cells}   {_share(some, lambda row: row['cause'] in row['ranked'][:2])}")
    return lines


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="What the judgement makes of fresh random cars of the loop model.")
    parser.add_argument("--pairs", type=int, default=0, help="pairs of tests to judge")
    parser.add_argument(
        "--causes", type=int, default=0, help="cars with a known cause to judge, from three sets of readings"
    )
    parser.add_argument("--spread", type=int, default=0, help="cars to tabulate sensitivities and healthy bands from")
    parser.add_argument("--seed", type=int, default=1, help="another number draws other cars")
    parser.add_argument("--rows", action="store_true", help="print every judged row as JSON as well")
    return parser.parse_args()


def main() -> None:
    """Print what was asked for."""
    wanted = _arguments()
    start = wanted.seed * 1_000_000
    lines: list[str] = []
    if wanted.pairs:
        rows = run(pair_row, range(start, start + wanted.pairs))
        lines += [json.dumps(row) for row in rows if wanted.rows] + pair_lines(rows) + [""]
    if wanted.causes:
        found = [row for rows in run(cause_rows, range(start, start + wanted.causes)) for row in rows]
        lines += [json.dumps(row) for row in found if wanted.rows] + cause_lines(found) + [""]
    if wanted.spread:
        lines += tables([row for rows in run(sample, range(start, start + wanted.spread)) for row in rows])
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
