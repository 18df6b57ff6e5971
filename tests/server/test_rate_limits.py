"""Limits: how many tries one address and all together have, and when they get them back."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from server.http.rate_limits import Limit, TooOften
from sync.records.shared_state import SharedState
from tests.support.plain_files import PlainFiles


class Clock:
    """A clock set by hand: time is an argument of the limit."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


Kept = Callable[[Clock], SharedState]


@pytest.fixture(params=["memory", "files"])
def state(request: pytest.FixtureRequest) -> Kept:
    """What keeps the tries, by a clock set by hand: in memory, and beside records that several services share."""
    files = PlainFiles() if request.param == "files" else None
    return lambda clock: SharedState(files, "tries.json", clock)


def test_two_services_count_together() -> None:
    """What was tried at one counts at the other, and what was forgiven there doesn't."""
    files = PlainFiles()
    one, other = (Limit(2, 3, 60, SharedState(files, "tries.json", Clock())) for _ in range(2))
    mark = one.enter("192.0.2.1")
    other.enter("192.0.2.1")
    with pytest.raises(TooOften):
        one.enter("192.0.2.1")
    other.forgive(mark)
    one.enter("192.0.2.1")


def test_one_address_is_held_back_and_no_other(state: Kept) -> None:
    """After its tries, for the rest of the period, and told how long."""
    clock = Clock()
    limit = Limit(2, 100, 60, state(clock))
    limit.enter("192.0.2.1")
    clock.now += 20
    limit.enter("192.0.2.1")
    with pytest.raises(TooOften) as caught:
        limit.enter("192.0.2.1")
    assert caught.value.values == {"wait_s": 40}
    limit.enter("192.0.2.2")
    clock.now += 40
    limit.enter("192.0.2.1")
    with pytest.raises(TooOften):
        limit.enter("192.0.2.1")


def test_all_together_are_held_back(state: Kept) -> None:
    """However many addresses they come from; nothing more is remembered."""
    limit = Limit(2, 3, 60, state(Clock()))
    for number in range(3):
        limit.enter(f"192.0.2.{number}")
    with pytest.raises(TooOften):
        limit.enter("198.51.100.1")


def test_a_right_try_does_not_count(state: Kept) -> None:
    """A person who knows the secret may use it as often as they like."""
    limit = Limit(1, 1, 60, state(Clock()))
    for _ in range(5):
        limit.forgive(limit.enter("192.0.2.1"))
    limit.enter("192.0.2.1")
    with pytest.raises(TooOften):
        limit.enter("192.0.2.1")


def test_who_stands_apart_is_held_back_by_nobody_else(state: Kept) -> None:
    """All others have used up their tries; this one has its own, no more, and takes none of the others'."""
    limit = Limit(2, 3, 60, state(Clock()))
    for _ in range(2):
        limit.enter("browser", is_apart=True)
    for number in range(3):
        limit.enter(f"192.0.2.{number}")
    limit.enter("another browser", is_apart=True)
    for caller in ("browser", "198.51.100.1"):
        with pytest.raises(TooOften):
            limit.enter(caller, is_apart=caller == "browser")
