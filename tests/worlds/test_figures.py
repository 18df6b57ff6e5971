"""The figures of the report, counted on rows with their truth beside them; no car is solved or judged.

Each expected value was worked out by hand from the rows above it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.worlds.draws import CAUSES
from tests.worlds.figures import (
    PAIR_BARS,
    SETS,
    WORDS,
    hidden_lines,
    of_pairs,
    of_world,
    pair_table,
    published_table,
    world_table,
)
from tests.worlds.judged import Judged

ROWS = [
    Judged("healthy", ["healthy", "icing"], ["healthy"]),
    Judged("healthy", ["icing", "healthy"], ["icing", "overcharge"]),
    Judged("icing", ["icing", "healthy"], ["icing"], effect=3.0),
    Judged("icing", ["healthy", "icing"], ["healthy", "icing"], effect=1.0),
    Judged("overcharge", ["healthy", "icing", "overcharge"], ["healthy", "icing", "overcharge"], effect=2.0),
    Judged("overcharge", ["icing", "healthy"], ["icing"], effect=5.0),
    Judged("undercharge", ["icing", "healthy"], ["icing"], shows=False, effect=0.4),
    Judged("undercharge", ["healthy", "undercharge"], ["healthy", "undercharge"], shows=False, effect=0.2),
]
COMMON = dict.fromkeys(CAUSES, 1.0) | {"healthy": 2.0}


def test_the_figures_of_a_world_are_counted_over_what_shows() -> None:
    """Six of the eight rows show."""
    assert of_world(ROWS, COMMON) == pytest.approx({
        "coverage": 100.0 * 4 / 6,
        "worst cause": 50.0,  # healthy and overcharge: one of two
        "coverage, by weights": 100.0 * (2.0 * 0.5 + 0.5 + 1.0) / 4.0,
        "size": 10 / 6,
        "size, by weights": (2.0 * 1.5 + 2.0 + 1.5) / 4.0,
        "alone": 100.0 * 3 / 6,
        "right": 100.0 * 2 / 3,
        "told sick": 50.0,
        "led": 50.0,
        "led, severest": 0.0,  # of four faulty ones, the two with the largest effects: 3 and 5
        "first two": 100.0 * 4 / 6,
    })  # fmt: skip


def test_the_table_of_worlds_has_a_column_a_world() -> None:
    """Mean, each world, target; one line per figure, and how many cases show."""
    sound = [replace(row, open_causes=[row.cause], order=[row.cause]) for row in ROWS]
    by_world = {"one": {"gauges": ROWS}, "other": {"gauges": sound}}
    lines = world_table(by_world, "gauges", COMMON)
    assert {line.count("|") for line in lines} == {6}
    assert lines[0] == f"| {SETS['gauges']} | mean | one | other | asked for |"
    assert lines[2] == "| truth among those held open [%] | 83.3 | 66.7 | 100.0 | 88 (80) |"
    assert lines[5] == "| mean size of the set | 1.33 | 1.67 | 1.00 | 6.0 |"
    assert lines[-1] == "| cases that show | | 6 | 6 | 1,000 in all readings |"
    assert len(lines) == 2 + len(WORDS) + 1


def test_faults_that_hardly_show_are_counted_apart() -> None:
    """Two such rows: the truth held open in one, healthy first in one, sets of one and two."""
    lines = hidden_lines({"one": {"gauges": ROWS, "lines": ROWS[:6]}})
    text = "2 such cases, truth held open in 50.0 % of them, healthy first in 50.0 %, mean size 1.50."
    assert lines[0] == f"- {SETS['gauges']}: {text}"
    assert lines[1].startswith(f"- {SETS['lines']}: 0 such cases")


def test_published_rows_are_counted_by_what_is_said_of_them() -> None:
    """Four healthy rows of two makers, two of faults, one by the rule of thumb."""
    good = Judged("healthy", ["healthy", "icing"], ["healthy", "icing"], about="middle")
    makers = {
        "one": [good, replace(good, open_causes=["icing", "overcharge"], order=["icing", "healthy"])],
        "other": [replace(good, about="low", open_causes=["icing"], order=["icing"]), replace(good, about="high")],
    }
    faulty = [Judged("icing", ["icing"], ["icing"]), Judged("icing", ["healthy", "icing"], ["healthy"])]
    rows = published_table(makers, faulty, [good])
    assert [measured for _, measured, _ in rows] == [
        "1 of 2", "1 of 2", "1 of 4", "0 of 4", "2 of 4", "1 of 2", "1 of 2", "1 of 2", "1 of 1",
    ]  # fmt: skip


def pair(what: str, truth: float, interval: list[float] | None, verdict: str, like: bool = True) -> dict[str, Any]:
    """A judged pair, its interval in kPa."""
    row = {"what": what, "unchanged": what == "nothing", "work_share_high_kpa": truth, "interval": interval}
    point = sum(interval) / 2.0 if interval else None
    return row | {"verdict": verdict, "like": like, "point": point}


PAIRS = [
    pair("nothing", 0.0, [-100.0, 100.0], "unchanged"),
    pair("nothing", 0.0, [10.0, 210.0], "better"),
    pair("nothing", 0.0, None, "not_comparable"),
    pair("cleaned", -400.0, [-500.0, -200.0], "better"),
    pair("cleaned", -400.0, [-350.0, 50.0], "unclear", like=False),
    pair("leak", -350.0, [-450.0, -150.0], "better"),
    pair("leak", -100.0, [-250.0, 50.0], "unclear"),
    pair("recharge", 200.0, [100.0, 400.0], "worse"),
    pair("wet_face", -300.0, None, "not_comparable"),
]
WORST = {"leak": PAIRS[5:7], "recharge": PAIRS[7:8], "wet_face": PAIRS[8:]}
COUNTED = {
    "pairs with like settings that were judged [%]": "85.7",  # six of seven
    "the 95 % interval of the work's share holds the truth [%]": "71.4",  # five of seven
    "the same where nothing had changed [%]": "50.0",
    "median width of that interval [kPa]": "300",  # 200, 200, 300, 300, 300, 300, 400
    "median error of the work's share [kPa]": "50",  # 0, 0, 50, 50, 50, 110, 250
    "nothing done, yet called better or worse [%]": "50.0",
    "true changes above 300 kPa found [%]": "67 of 3",
    "cleaned or fan repaired, called better [%]": "50",
    "leak called better": "1 of 2",
    "recharge called worse": "1 of 1",
    "wet face called better": "0 of 1",
}


def test_the_figures_of_pairs_are_counted() -> None:
    """Nine rows, seven of them judged."""
    assert of_pairs(PAIRS, WORST) == COUNTED


def test_the_table_of_pairs_has_a_column_a_world() -> None:
    """Name, each world, target; one line per figure."""
    lines = pair_table({"one": (PAIRS, WORST), "other": (PAIRS, WORST)})
    assert {line.count("|") for line in lines} == {5}
    assert lines[0] == "| what | one | other | asked for |"
    assert lines[2] == f"| {next(iter(COUNTED))} | 85.7 | 85.7 | 90 |"
    assert len(lines) == 2 + len(COUNTED) == 2 + len(PAIR_BARS)
