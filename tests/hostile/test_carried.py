"""Hostile files carried by hand: the command says what was accepted and what wasn't; the records stay intact."""

from __future__ import annotations

from pathlib import Path

import pytest

from sync import rulebook
from sync.records.logbook import Logbook
from sync.work import intake
from tests.hostile.attack import attack_by_hand
from tests.hostile.attacked import faults_of_records
from tests.support.ops import JUNE_12, Phone
from tests.support.sheet_visits import PAIR, operations


# Hundreds of actions: a busy machine takes its time, and each action has its own patience.
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("count", [100, pytest.param(1_000, marks=pytest.mark.long)])
def test_no_file_breaks_the_command(count: int, tmp_path: Path) -> None:
    """Accepted, or refused with a sentence; earlier records are unchanged, and an honest visit is filed after."""
    outcome = attack_by_hand(tmp_path, 11, count)
    assert sum(outcome.counts.values()) == count
    assert not outcome.faults, "\n".join(outcome.faults[:20])
    assert {came for _, came in outcome.counts} >= {"told", "refused"}
    with Logbook(tmp_path / "logbook", rulebook.load()) as logbook:
        results = intake.receive(logbook, operations(PAIR, Phone("c0ffee")), JUNE_12)["results"]
    assert {one["status"] for one in results} == {"accepted"}
    assert faults_of_records(tmp_path / "logbook", [PAIR]) == []
