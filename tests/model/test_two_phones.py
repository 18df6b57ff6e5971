"""Two phones and a desk in any order: everything arrives once, nobody overwrites silently, all see the same visit.

Seeded schedules against the real records on disk; the phones of the model keep what a phone keeps.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from tests.model.realdesk import RealDesk
from tests.model.schedule import Schedule
from tests.model.shareddesk import SharedDesk

# What a run must have met, or it would prove nothing about it.
MUST_COME_ABOUT = (
    "accepted", "conflict", "deferred", "rejected", "repeat", "settled", "mended", "chain", "card", "crash",
    "torn write", "rebuilt", "lost request", "lost reply", "lost changes", "late copy",
    "part", "damaged part", "late part",
)  # fmt: skip


# A crash of the model is a picture of the files, so in memory it proves the same as on a disk that is slow to sync;
# every twenty-fifth schedule still uses the disk. Real kills of the real service are in test_service.
MEMORY = Path("/dev/shm")


def play(seeds: range, disk: Path, rulebook: dict[str, Any], desk: type[RealDesk] = RealDesk) -> Counter[str]:
    """Play one schedule per seed; returns what occurred in all of them."""
    seen: Counter[str] = Counter()
    for seed in seeds:
        place = disk if seed % 25 == 0 or not MEMORY.is_dir() else MEMORY
        with tempfile.TemporaryDirectory(dir=place) as ground:
            schedule = Schedule(seed, Path(ground), rulebook, desk)
            try:
                schedule.run()
            except AssertionError as error:
                error.add_note(f"schedule {seed}")
                raise
            finally:
                schedule.desk.end()
            seen += schedule.seen
    return seen


def test_two_phones_and_a_desk_agree_whatever_happens_on_the_way(tmp_path: Path, rulebook: dict[str, Any]) -> None:
    """200 schedules; each trouble occurs in at least ten places."""
    seen = play(range(200), tmp_path, rulebook)
    assert {what: seen[what] for what in MUST_COME_ABOUT if seen[what] < 10} == {}


def test_two_phones_agree_with_two_services_over_one_database(tmp_path: Path, rulebook: dict[str, Any]) -> None:
    """25 schedules, each request to either of the services by chance; each trouble occurs."""
    seen = play(range(5000, 5025), tmp_path, rulebook, SharedDesk)
    assert [what for what in MUST_COME_ABOUT if not seen[what]] == []


@pytest.mark.long
def test_two_phones_agree_with_two_services_at_length(tmp_path: Path, rulebook: dict[str, Any]) -> None:
    """500 other schedules."""
    seen = play(range(6000, 6500), tmp_path, rulebook, SharedDesk)
    assert {what: seen[what] for what in MUST_COME_ABOUT if seen[what] < 25} == {}


@pytest.mark.long
def test_two_phones_and_a_desk_agree_at_length(tmp_path: Path, rulebook: dict[str, Any]) -> None:
    """3,000 other schedules."""
    seen = play(range(1000, 4000), tmp_path, rulebook)
    assert {what: seen[what] for what in MUST_COME_ABOUT if seen[what] < 150} == {}
