"""The figures of the report, counted on rows whose truth is written beside them; no car is solved and none judged.

What the figures come to on real rows is for the report to say.
"""

from __future__ import annotations

from typing import Any

from tests.loop.figures import cause_table, pair_table


def pair_row(what: str, truth: float, interval: list[float] | None, verdict: str, like: bool = True) -> dict[str, Any]:
    """A pair as the report judges it, its interval in kPa."""
    row = {"what": what, "unchanged": what == "nothing", "work_share_high_kpa": truth, "interval": interval}
    return row | {"verdict": verdict, "like": like}


def test_the_figures_of_pairs_are_counted() -> None:
    """Nine rows, counted by hand."""
    rows = [
        pair_row("nothing", 0.0, [-100.0, 100.0], "unchanged"),
        pair_row("nothing", 0.0, [10.0, 210.0], "better"),
        pair_row("nothing", 0.0, None, "not_comparable"),
        pair_row("cleaned", -400.0, [-500.0, -200.0], "better"),
        pair_row("cleaned", -400.0, [-350.0, 50.0], "unclear", like=False),
        pair_row("leak", -350.0, [-450.0, -150.0], "better"),
        pair_row("leak", -100.0, [-250.0, 50.0], "unclear"),
        pair_row("recharge", 200.0, [100.0, 400.0], "worse"),
        pair_row("wet_face", -300.0, None, "not_comparable"),
    ]
    figures = {what: (measured.strip(), bar) for what, measured, bar in pair_table(rows)}
    assert figures == {
        "pairs with like settings that were judged": ("85.7 % (6 of 7)", "90 %"),
        "the 95 % interval of the work's share holds the truth": ("71.4 % (5 of 7)", "93 %"),
        "the same where nothing had been done": ("50.0 % (1 of 2)", "95 %"),
        "width of that interval": ("median 300 kPa, from 200 to 400 (10th, 90th percentile)", "360 kPa"),
        "nothing done, yet called better or worse": ("50.0 % (1 of 2)", "5 %"),
        "true changes above 300 kPa that were detected": ("66.7 % (2 of 3)", "80 %"),
        "a leak called better": ("50.0 % (1 of 2)", "3 %"),
        "a recharge called worse": ("100.0 % (1 of 1)", "3 %"),
        "a wet face called better": ("0.0 % (0 of 1)", "never"),
    }


def test_the_figures_of_causes_are_counted() -> None:
    """Each set of readings apart; a case that does not show, or was not ranked, is not counted."""
    ranked = [["icing", "healthy"], ["healthy", "icing"], ["healthy", "overcharge", "icing"], []]
    rows = [{"cause": "icing", "readings": "all", "shows": True, "ranked": order} for order in ranked]
    rows += [{"cause": "icing", "readings": "all", "shows": False, "ranked": ["icing"]}]
    rows += [{"cause": "icing", "readings": "gauges", "shows": True, "ranked": ["healthy"]}]
    measured = [(share.strip(), bar) for _, share, bar in cause_table(rows)]
    assert measured == [
        ("0.0 % (0 of 1)", ""), ("0.0 % (0 of 1)", "70 %"),
        ("-   (0)", ""), ("-   (0)", "85 %"),
        ("33.3 % (1 of 3)", ""), ("66.7 % (2 of 3)", "90 %"),
    ]  # fmt: skip
