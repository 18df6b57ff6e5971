"""The figures of the report: judged rows in, tables and lines to print out.

Nothing is drawn, solved or judged here.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable
from statistics import median
from typing import Any

from tests.bench.results import Row
from tests.loop.faultcases import CAUSES, READING_SETS

Json = dict[str, Any]
LARGE_KPA = 300.0
# What each set of readings holds, and in how many cases the true cause is to be in the first two.
SETS = {
    "gauges": ("two gauges and vent", "70 %"),
    "lines": ("and line temperatures, weak air", "85 %"),
    "all": ("and a rest reading, strain, fan stage and a look round", "90 %"),
}


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


def pair_table(rows: list[Json]) -> list[Row]:
    """The figures of the before and after that have a bar."""
    judged = [row for row in rows if row["interval"]]
    dry = [row for row in rows if row["what"] != "wet_face"]
    like = [row for row in dry if row["like"]]
    unchanged = [row for row in judged if row["unchanged"]]
    nothing = [row for row in judged if row["what"] == "nothing"]
    large = [row for row in judged if abs(row["work_share_high_kpa"]) > LARGE_KPA]
    covers = _covers("interval", "work_share_high_kpa")
    widths = [row["interval"][1] - row["interval"][0] for row in judged]
    return [
        ("pairs with like settings that were judged", _share(like, lambda row: bool(row["interval"])), "90 %"),
        ("the 95 % interval of the work's share holds the truth", _share(judged, covers), "93 %"),
        ("the same where nothing had been done", _share(unchanged, covers), "95 %"),
        ("width of that interval", _widths(widths), "360 kPa"),
        ("nothing done, yet called better or worse", _share(nothing, _claims("verdict")), "5 %"),
        ("true changes above 300 kPa that were detected", _share(large, _found), "80 %"),
        ("a leak called better", _verdicts(judged, "leak", "better"), "3 %"),
        ("a recharge called worse", _verdicts(judged, "recharge", "worse"), "3 %"),
        ("a wet face called better", _verdicts(rows, "wet_face", "better"), "never"),
    ]


def _shown(rows: list[Json], readings: str) -> list[Json]:
    """The cases of a set of readings that show and were ranked."""
    return [row for row in rows if row["readings"] == readings and row["shows"] and row["ranked"]]


def cause_table(rows: list[Json]) -> list[Row]:
    """How often the true cause is first and in the first two, by set of readings."""
    table: list[Row] = []
    for readings, (words, bar) in SETS.items():
        some = _shown(rows, readings)
        first = _share(some, lambda row: row["ranked"][0] == row["cause"])
        in_two = _share(some, lambda row: row["cause"] in row["ranked"][:2])
        table += [(f"{words}: true cause first", first, ""), (f"{words}: in the first two", in_two, bar)]
    return table


def cause_lines(rows: list[Json]) -> list[str]:
    """Hits of the ranking and the confusion table, as lines to print."""
    lines = []
    for readings in READING_SETS:
        some = _shown(rows, readings)
        lines.append(
            f"{readings:7} first {_share(some, lambda row: row['ranked'][0] == row['cause'])}"
            f"   in two {_share(some, lambda row: row['cause'] in row['ranked'][:2])}"
        )
    for readings in READING_SETS:
        lines += ["", f"{readings}: true cause down, first in the ranking across [%], last: in two"]
        lines += _confusion(_shown(rows, readings))
    return lines


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
