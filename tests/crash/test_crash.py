"""A crash after any call of a day, and disks that fail or lie: what was promised is kept, and the desk opens.

The promises are checked on real folders through the desk's own interfaces; the disk is a model, compared with a real
one here.
"""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest

from tests.crash.bad_disks import failed_run, syncs
from tests.crash.day import Day, without_keeper
from tests.crash.disk import KILLED, POWER_CUTS, VARIANTS, Call, Disk, read_in
from tests.crash.recorder import Event, Fact, Recorder
from tests.crash.replay import MEMORY, Replay, every, killed_in_sync, sampled
from tests.crash.tried import failures, lies

Books = dict[str, Any]


@pytest.fixture(autouse=True)
def _still(monkeypatch: pytest.MonkeyPatch) -> None:
    without_keeper(monkeypatch)


@pytest.fixture
def events(tmp_path: Path, rulebook: Books) -> list[Event]:
    """A day without a fault."""
    recorder = Recorder(tmp_path)
    Day(tmp_path, rulebook, recorder).play()
    return recorder.events


@pytest.fixture
def ground(tmp_path: Path) -> Path:
    """Where states are written: in memory if the system allows it."""
    return MEMORY if MEMORY.is_dir() else tmp_path


def test_the_day_has_everything_in_it_and_no_call_is_missed(
    tmp_path: Path, rulebook: Books, events: list[Event]
) -> None:
    """No step broke; each answer and each kind of call occurs; the model holds what the real folder holds."""
    facts = [event for event in events if isinstance(event, Fact)]
    assert [fact for fact in facts if fact.what == "broken"] == []
    assert {fact.value["status"] for fact in facts if fact.what == "answered"} == {"accepted", "conflict", "rejected"}
    assert {fact.what for fact in facts} >= {
        "photo", "sheet", "letter", "letter over", "handed", "paired", "revoked", "erased", "backed up"}
    calls = [event for event in events if isinstance(event, Call)]
    assert {call.name for call in calls} == {
        "create", "write", "sync", "replace", "remove", "make", "remove_folder", "sync_folder"}
    disk = Disk()
    for call in calls:
        disk.apply(call)
    tree = read_in(tmp_path, ("layby.lock",))
    assert disk.left(KILLED, random.Random(1)) == tree
    assert [path for path in tree if "/." in path] == []


def test_what_is_not_synced_may_be_gone() -> None:
    """The model by itself: bytes without a sync, an entry without its folder's sync, a rename, a failed sync."""
    disk = Disk({"a": None, "a/old": b"old"})
    for call in (Call("create", ("a/new", True, 1)), Call("write", (1, 0, b"new")), Call("sync", (1,)),
                 Call("write", (1, 3, b"er")), Call("replace", ("a/new", "a/old"))):
        disk.apply(call)
    assert disk.left(KILLED, random.Random(3)) == {"a": None, "a/old": b"newer"}
    trees = [disk.left(variant, random.Random(seed)) for variant in VARIANTS for seed in range(40)]
    assert {tree["a/old"] for tree in trees} == {b"old", b"new", b"newe", b"newer", b"new\0\0", b"new\0r"}
    disk.apply(Call("sync_folder", ("a",)))
    assert all(b"new" in (disk.left(variant, random.Random(3))["a/old"] or b"") for variant in VARIANTS)
    disk.apply(Call("sync_fails", (1,)))
    assert {(disk.left(variant, random.Random(3))["a/old"]) for variant in POWER_CUTS} == {b"new"}
    assert disk.left(KILLED, random.Random(3))["a/old"] == b"newer"


def test_a_crash_at_a_moment_of_the_day_breaks_no_promise(
    tmp_path: Path, rulebook: Books, events: list[Event]
) -> None:
    """A sample of moments, each with one of nineteen things that a crash may leave, followed by a second crash."""
    replay = Replay(events, rulebook, tmp_path)
    replay.play(sampled(events, 190))
    assert {variant for _, variant in replay.opened} == set(VARIANTS)
    assert sum(replay.opened.values()) == 380


def test_a_process_killed_in_a_sync_leaves_nothing_that_the_next_one_answers_for_too_early(
    tmp_path: Path, rulebook: Books, events: list[Event]
) -> None:
    """Everything reads back and none of it is durable; the next process answers, and then the power fails."""
    replay = Replay(events, rulebook, tmp_path)
    moments = killed_in_sync(events)
    replay.play(moments[::4])
    assert replay.opened["first", KILLED] == len(moments[::4]) > 40


@pytest.mark.long
def test_a_crash_at_any_moment_of_the_day_breaks_no_promise(
    tmp_path: Path, rulebook: Books, events: list[Event]
) -> None:
    """Every call, eight things each that a crash may leave, and every kill in a sync."""
    replay = Replay(events, rulebook, tmp_path)
    replay.play(every(events, 8) + killed_in_sync(events))
    assert sum(replay.opened.values()) > 8000


def test_a_sync_that_fails_is_said_and_breaks_no_promise(rulebook: Books, ground: Path, events: list[Event]) -> None:
    """A sample of syncs, each failing in its own day. After a failed sync of the journal no entry is accepted."""
    numbers = random.Random(5).sample(range(len(syncs(events))), 24)
    assert failures(rulebook, ground, numbers).opened > 24 * 2 * 4


def test_the_journals_own_sync_fails(rulebook: Books, ground: Path, events: list[Event]) -> None:
    """Of the first entries: everything after it says journal_failed, until the next start accepts entries again."""
    journal = next(number for number, event in enumerate(events) if isinstance(event, Fact) and event.what == "sent")
    number = sum(place < journal for place in syncs(events))
    facts = [event for event in failed_run(number, rulebook, ground) if isinstance(event, Fact)]
    broken = [fact.key for fact in facts if fact.what == "broken"]
    assert broken[0] == "journal_failed"
    assert len(broken) > 10
    start = [number for number, fact in enumerate(facts) if fact.what == "opened"][1]
    answers = [number for number, fact in enumerate(facts) if fact.what == "answered"]
    assert answers
    assert min(answers) > start


@pytest.mark.long
def test_any_sync_may_fail(rulebook: Books, ground: Path, events: list[Event]) -> None:
    """Every sync of the day in turn."""
    assert failures(rulebook, ground, list(range(len(syncs(events))))).opened > 2000


def test_syncs_that_lie_cost_what_came_after_and_the_phones_bring_it_back(
    rulebook: Books, ground: Path, events: list[Event]
) -> None:
    """A sample of moments from which on no sync does anything."""
    assert lies(events, rulebook, ground, 60).opened == 60


@pytest.mark.long
def test_syncs_may_lie_from_anywhere_on(rulebook: Books, ground: Path, events: list[Event]) -> None:
    """The same at length."""
    assert lies(events, rulebook, ground, 3000).places > 200
