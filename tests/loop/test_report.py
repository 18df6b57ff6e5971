"""The report by itself: its parts fit together and reach their page. The figures themselves are its own business."""

from __future__ import annotations

import sys
from typing import Any

from tests.bench.results import LOOP
from tests.loop import report
from tests.support import children
from tests.support.service import ROOT
from tests.worlds.cases import cases
from tests.worlds.figures import SETS, world_table
from tests.worlds.judged import judged_cases, judged_pairs
from tests.worlds.made_rows import rows
from tests.worlds.pairs import pairs
from tests.worlds.stock import world_of


def test_cases_are_judged_from_each_set_of_readings(rulebook: Any) -> None:
    """Eleven cases: each judged four times, its cause beside the result, and a table of it."""
    drawn = cases(world_of("zones"), 6, 11)
    judged = judged_cases(drawn, rulebook)
    assert list(judged) == list(SETS)
    for judgements in judged.values():
        assert [row.cause for row in judgements] == [case.truth["cause"] for case in drawn]
        assert all(set(row.open_causes) <= set(row.order) for row in judgements)
        assert all(row.open_causes for row in judgements)
    lines = world_table({"zones": judged}, "lines", rulebook["causes"]["common"])
    assert {line.count("|") for line in lines} == {5}


def test_pairs_are_judged_beside_their_truth(rulebook: Any) -> None:
    """Each with its truth and the result; an interval if it was judged, reasons if it wasn't."""
    drawn = pairs(world_of("zones"), 6, 8)
    judged = judged_pairs(drawn, rulebook)
    assert [row["work_share_high_kpa"] for row in judged] == [pair.truth["work_share_high_kpa"] for pair in drawn]
    assert any(row["interval"] for row in judged)
    for row in judged:
        assert row["reasons"] or row["interval"][0] <= row["point"] <= row["interval"][1]


def test_published_rows_are_reported_a_maker_at_a_time(rulebook: Any) -> None:
    """By fits on made-up rows: nine figures, over all rows with outside air, all rows of faults, thirty by the thumb.
    """
    made = {"one": rows(1, each=8), "other": rows(2, each=8)}
    table = report._published(rulebook, made)
    assert len(table) == 9
    counts = [measured.split(" of ")[1] for _, measured, _ in table]
    assert counts == ["23", "46", "69", "69", "69", "36", "36", "36", "30"]


def test_the_command_that_is_asked_for_nothing_ends_well() -> None:
    """No cases and no pairs: nothing is printed, and nothing written."""
    before = LOOP.path.read_bytes()
    assert children.run([sys.executable, "-m", "tests.loop.report", "--write"], cwd=ROOT, check=True).stdout == ""
    assert LOOP.path.read_bytes() == before
