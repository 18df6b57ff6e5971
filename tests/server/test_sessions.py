"""Sessions: identified by what a browser shows, ended by silence, by signing out, by a new passphrase."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from server.desk.sessions import IDLE_S, MOST, SEEN_EVERY_S, Sessions
from sync.records.shared_state import SharedState
from tests.server.test_rate_limits import Clock
from tests.support.plain_files import PlainFiles

Kept = Callable[[Clock], SharedState]


@pytest.fixture(params=["memory", "files"])
def state_of(request: pytest.FixtureRequest) -> Kept:
    """What keeps sessions, by a clock set by hand: in memory, and beside records that several services share."""
    files = PlainFiles() if request.param == "files" else None
    return lambda clock: SharedState(files, "sessions.json", clock)


def test_who_signed_in_at_one_service_is_known_at_the_other() -> None:
    """With the same token for forms, until signing out at either."""
    files = PlainFiles()
    one, other = (Sessions(SharedState(files, "sessions.json", Clock())) for _ in range(2))
    shown = one.begin("e1")
    assert one.of(shown, lambda _: "e1") == other.of(shown, lambda _: "e1") is not None
    other.end(shown)
    assert one.of(shown, lambda _: "e1") is None


def test_a_session_is_known_by_what_was_handed_out(state_of: Kept) -> None:
    """And by nothing else; each has its own token for its forms."""
    sessions = Sessions(state_of(Clock()))
    one, other = sessions.begin("e1"), sessions.begin("e1")
    found = [sessions.of(shown, lambda _: "e1") for shown in (one, other)]
    assert None not in found
    assert len({one, other, *(session.form_token for session in found if session)}) == 4
    assert sessions.of("", lambda _: "e1") is None
    assert sessions.of(one[:-1], lambda _: "e1") is None


def test_a_silent_session_ends(state_of: Kept) -> None:
    """Asking keeps it; twelve hours of silence end it."""
    clock = Clock()
    sessions = Sessions(state_of(clock))
    shown = sessions.begin("e1")
    clock.now += IDLE_S - 1
    assert sessions.of(shown, lambda _: "e1")
    clock.now += IDLE_S - 1
    assert sessions.of(shown, lambda _: "e1")
    clock.now += IDLE_S
    assert sessions.of(shown, lambda _: "e1") is None


def test_a_new_passphrase_ends_all_sessions(state_of: Kept) -> None:
    """A browser that knew the old one has to sign in again."""
    sessions = Sessions(state_of(Clock()))
    shown = sessions.begin("e1")
    assert sessions.of(shown, lambda _: "e2") is None
    assert sessions.of(shown, lambda _: "e1") is None


def test_signing_out_ends_one_session(state_of: Kept) -> None:
    """The other browser stays in."""
    sessions = Sessions(state_of(Clock()))
    one, other = sessions.begin("e1"), sessions.begin("e1")
    sessions.end(one)
    sessions.end("never begun")
    assert sessions.of(one, lambda _: "e1") is None
    assert sessions.of(other, lambda _: "e1")


def test_not_more_than_so_many_are_kept(state_of: Kept) -> None:
    """The one that was silent longest goes."""
    clock = Clock()
    sessions = Sessions(state_of(clock))
    shown = []
    for _ in range(MOST):
        clock.now += SEEN_EVERY_S
        shown.append(sessions.begin("e1"))
    clock.now += SEEN_EVERY_S
    assert sessions.of(shown[0], lambda _: "e1")
    sessions.begin("e1")
    assert sessions.of(shown[1], lambda _: "e1") is None
    assert sessions.of(shown[0], lambda _: "e1")
