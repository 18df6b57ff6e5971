"""Damaged folders: a start and the commands survive one broken file, whichever it is and however it broke."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest

from tests.hostile.attack import attack_folders

# Linux has a file system in memory here: only what reads back is tried, so there is no need to wait for a disk.
MEMORY = Path("/dev/shm")

# Hundreds of actions: a busy machine takes its time, and each action has its own patience.
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("count", [120, pytest.param(3_000, marks=pytest.mark.long)])
def test_no_broken_file_stops_the_desk(count: int) -> None:
    """No trace for a person, no refusal to start or to look anything up; a sentence says what can't be used."""
    with tempfile.TemporaryDirectory(dir=MEMORY if MEMORY.is_dir() else None) as place:
        outcome = attack_folders(Path(place), range(count))
    assert sum(outcome.counts.values()) == 3 * count
    assert not outcome.faults, "\n".join(outcome.faults[:20])
    assert {came for _, came in outcome.counts} >= {"done", "told"}
