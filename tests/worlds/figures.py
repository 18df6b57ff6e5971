"""The figures of the report: judged rows in, numbers and Markdown rows out. Nothing is drawn, solved or judged here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from statistics import mean, median
from typing import Any

from tests.worlds.draws import CAUSES
from tests.worlds.judged import Judged

Json = dict[str, Any]
Row = tuple[str, str, str]
LARGE_KPA = 300.0
SETS = {
    "gauges": "gauges and vent",
    "lines": "with lines",
    "all": "with all",
    "own": "with lines, own healthy test on file",
}
# The targets by set of readings: mean and, in brackets, worst.
BARS = {
    "coverage": {"gauges": "88 (80)", "lines": "88 (80)", "all": "88 (80)"},
    "worst cause": {"gauges": "65", "lines": "65", "all": "65"},
    "size": {"gauges": "6.0", "lines": "4.5", "all": "4.0", "own": "a fifth smaller"},
    "alone": {"gauges": "report", "lines": "8", "all": "12"},
    "right": {"gauges": "95", "lines": "95", "all": "95"},
    "told sick": {"gauges": "5", "lines": "5", "all": "5", "own": "3"},
    "led": {"gauges": "45", "lines": "30", "all": "25"},
    "led, severest": {"gauges": "15", "lines": "8", "all": "5"},
    "first two": {"gauges": "55", "lines": "70", "all": "75"},
}
WORDS = {
    "coverage": "truth among those held open [%]",
    "worst cause": "the same, worst cause [%]",
    "coverage, by weights": "the same, cases weighed as common as they are taken to be [%]",
    "size": "mean size of the set",
    "size, by weights": "the same, cases weighed as common",
    "alone": "one cause alone: share of cases [%]",
    "right": "one cause alone: right [%]",
    "told sick": "healthy told sick [%]",
    "led": "faulty cars led by healthy [%]",
    "led, severest": "the same, the severest third [%]",
    "first two": "true cause in the first two [%]",
}


def _share(rows: Sequence[Any], true: Callable[[Any], bool]) -> float:
    """Percentage of rows; NaN if there are none."""
    return 100.0 * mean(true(row) for row in rows) if rows else float("nan")


def _weighted(rows: Sequence[Judged], common: dict[str, float], value: Callable[[Judged], float]) -> float:
    """A mean with each cause weighted by how common it is assumed to be."""
    total, weight = 0.0, 0.0
    for cause in CAUSES:
        mine = [value(row) for row in rows if row.cause == cause]
        if mine:
            total += common[cause] * mean(mine)
            weight += common[cause]
    return total / weight


def of_world(rows: Sequence[Judged], common: dict[str, float]) -> dict[str, float]:
    """The figures of one world and one set of readings, over the cases that show in it."""
    shown = [row for row in rows if row.shows]
    healthy = [row for row in shown if row.cause == "healthy"]
    faulty = sorted((row for row in shown if row.cause != "healthy"), key=lambda row: row.effect)
    severest = faulty[2 * len(faulty) // 3 :]
    alone = [row for row in shown if len(row.open_causes) == 1]
    by_cause = [[row for row in shown if row.cause == cause] for cause in CAUSES]
    return {
        "coverage": _share(shown, lambda row: row.cause in row.open_causes),
        "worst cause": min(_share(mine, lambda row: row.cause in row.open_causes) for mine in by_cause if mine),
        "coverage, by weights": 100.0 * _weighted(shown, common, lambda row: float(row.cause in row.open_causes)),
        "size": mean(len(row.open_causes) for row in shown),
        "size, by weights": _weighted(shown, common, lambda row: float(len(row.open_causes))),
        "alone": 100.0 * len(alone) / len(shown),
        "right": _share(alone, lambda row: row.open_causes == [row.cause]),
        "told sick": _share(healthy, lambda row: "healthy" not in row.open_causes),
        "led": _share(faulty, lambda row: row.order[0] == "healthy"),
        "led, severest": _share(severest, lambda row: row.order[0] == "healthy"),
        "first two": _share(shown, lambda row: row.cause in row.order[:2]),
    }


def _digits(name: str, value: float) -> str:
    return f"{value:.2f}" if name.startswith("size") else f"{value:.1f}"


def world_table(by_world: dict[str, dict[str, list[Judged]]], name: str, common: dict[str, float]) -> list[str]:
    """A Markdown table for one set of readings: the mean over worlds left out, each of them, and the targets."""
    figures = {world: of_world(rows[name], common) for world, rows in by_world.items()}
    rule = "| --- |" + " --- |" * (len(figures) + 2)
    lines = [f"| {SETS[name]} | mean | {' | '.join(figures)} | asked for |", rule]
    for figure, words in WORDS.items():
        values = [of[figure] for of in figures.values()]
        cells = " | ".join(_digits(figure, value) for value in values)
        lines.append(f"| {words} | {_digits(figure, mean(values))} | {cells} | {BARS.get(figure, {}).get(name, '')} |")
    counts = " | ".join(str(sum(row.shows for row in rows[name])) for rows in by_world.values())
    lines.append(f"| cases that show | | {counts} | 1,000 in all readings |")
    return lines


def hidden_lines(by_world: dict[str, dict[str, list[Judged]]]) -> list[str]:
    """The results for faults that move no reading by twice its uncertainty."""
    lines = []
    for name in ("gauges", "lines"):
        rows = [row for of in by_world.values() for row in of[name] if not row.shows]
        coverage = _share(rows, lambda row: row.cause in row.open_causes)
        size = mean(len(row.open_causes) for row in rows) if rows else 0.0
        first = _share(rows, lambda row: row.order[0] == "healthy")
        text = f"truth held open in {coverage:.1f} % of them, healthy first in {first:.1f} %, mean size {size:.2f}"
        lines.append(f"- {SETS[name]}: {len(rows)} such cases, {text}.")
    return lines


def published_table(makers: dict[str, list[Judged]], faulty: list[Judged], thumb: list[Judged]) -> list[Row]:
    """Published rows of healthy cars, leaving out one maker at a time, rows of faults, and the rule of thumb."""
    healthy = [row for rows in makers.values() for row in rows]
    sick = [row for row in healthy if "healthy" not in row.open_causes]
    middles = sum(row.about == "middle" for row in sick)
    ends, all_ends = len(sick) - middles, sum(row.about != "middle" for row in healthy)
    single = sum(row.open_causes != ["healthy"] and len(row.open_causes) == 1 for row in healthy)
    silent = sum(not row.order for row in healthy)
    first = sum(row.order[:1] == ["healthy"] for row in healthy)
    return [
        ("published healthy rows: middles told sick", f"{middles} of {len(healthy) - all_ends}", "at most 1"),
        ("ends of the ranges told sick", f"{ends} of {all_ends}", "at most one in eight"),
        ("given one fault alone", f"{single} of {len(healthy)}", "at most 2"),
        ("silent", f"{silent} of {len(healthy)}", "0"),
        ("healthy first", f"{first} of {len(healthy)}", ""),
        ("rows of faults: the fault held open",
         f"{sum(row.cause in row.open_causes for row in faulty)} of {len(faulty)}", "31"),
        ("healthy alone", f"{sum(row.open_causes == ['healthy'] for row in faulty)} of {len(faulty)}", "0"),
        ("healthy first", f"{sum(row.order[0] == 'healthy' for row in faulty)} of {len(faulty)}", "at most 6"),
        ("rule of thumb, healthy rows: healthy first",
         f"{sum(row.order[0] == 'healthy' for row in thumb)} of {len(thumb)}", "24"),
    ]  # fmt: skip


def _covers(row: Json) -> bool:
    return bool(row["interval"][0] <= row["work_share_high_kpa"] <= row["interval"][1])


def _found(row: Json) -> bool:
    """Whether the interval excludes zero on the side of the true change."""
    low, high = row["interval"]
    return bool(high < 0.0) if row["work_share_high_kpa"] < 0.0 else bool(low > 0.0)


def of_pairs(rows: Sequence[Json], worst: dict[str, list[Json]]) -> dict[str, str]:
    """The figures of one world's pairs, and of the sets in which one thing was always done."""
    like = [row for row in rows if row["like"] and row["what"] != "wet_face"]
    judged = [row for row in rows if row["interval"]]
    unchanged = [row for row in judged if row["unchanged"]]
    nothing = [row for row in judged if row["what"] == "nothing"]
    large = [row for row in judged if abs(row["work_share_high_kpa"]) > LARGE_KPA]
    clean = [row for row in judged if row["what"] in ("cleaned", "fan_repaired")]
    claim = _share(nothing, lambda row: row["verdict"] in ("better", "worse"))
    bad = {"leak": "better", "recharge": "worse", "wet_face": "better"}
    return {
        "pairs with like settings that were judged [%]": f"{_share(like, lambda row: bool(row['interval'])):.1f}",
        "the 95 % interval of the work's share holds the truth [%]": f"{_share(judged, _covers):.1f}",
        "the same where nothing had changed [%]": f"{_share(unchanged, _covers):.1f}",
        "median width of that interval [kPa]":
            f"{median(row['interval'][1] - row['interval'][0] for row in judged):.0f}",
        "median error of the work's share [kPa]":
            f"{median(abs(row['point'] - row['work_share_high_kpa']) for row in judged):.0f}",
        "nothing done, yet called better or worse [%]": f"{claim:.1f}",
        "true changes above 300 kPa found [%]": f"{_share(large, _found):.0f} of {len(large)}",
        "cleaned or fan repaired, called better [%]": f"{_share(clean, lambda row: row['verdict'] == 'better'):.0f}",
        **{f"{what.replace('_', ' ')} called {verdict}":
           f"{sum(row['verdict'] == verdict for row in worst[what])} of {len(worst[what])}"
           for what, verdict in bad.items()},
    }  # fmt: skip


PAIR_BARS = ("90", "93 to 97", "", "360", "", "5", "80", "", "none of 200", "none of 200", "none of 200")


def pair_table(by_world: dict[str, tuple[list[Json], dict[str, list[Json]]]]) -> list[str]:
    """A Markdown table of before and after, one column per world."""
    figures = {world: of_pairs(*rows) for world, rows in by_world.items()}
    lines = [f"| what | {' | '.join(figures)} | asked for |", "| --- |" + " --- |" * (len(figures) + 1)]
    names = list(next(iter(figures.values())))
    for name, bar in zip(names, PAIR_BARS, strict=True):
        lines.append(f"| {name} | {' | '.join(of[name] for of in figures.values())} | {bar} |")
    return lines
