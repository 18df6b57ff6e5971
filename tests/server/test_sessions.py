"""Sessions: identified by what a browser shows, ended by silence, by signing out, by a new passphrase."""

from __future__ import annotations

from server.desk.sessions import IDLE_S, MOST, Sessions
from tests.server.test_rate_limits import Clock


def test_a_session_is_known_by_what_was_handed_out() -> None:
    """And by nothing else; each has its own token for its forms."""
    sessions = Sessions(Clock())
    one, other = sessions.begin("e1"), sessions.begin("e1")
    found = [sessions.of(shown, "e1") for shown in (one, other)]
    assert None not in found
    assert len({one, other, *(session.form_token for session in found if session)}) == 4
    assert sessions.of("", "e1") is None
    assert sessions.of(one[:-1], "e1") is None


def test_a_silent_session_ends() -> None:
    """Asking keeps it; twelve hours of silence end it."""
    clock = Clock()
    sessions = Sessions(clock)
    shown = sessions.begin("e1")
    clock.now += IDLE_S - 1
    assert sessions.of(shown, "e1")
    clock.now += IDLE_S - 1
    assert sessions.of(shown, "e1")
    clock.now += IDLE_S
    assert sessions.of(shown, "e1") is None


def test_a_new_passphrase_ends_all_sessions() -> None:
    """A browser that knew the old one has to sign in again."""
    sessions = Sessions(Clock())
    shown = sessions.begin("e1")
    assert sessions.of(shown, "e2") is None
    assert sessions.of(shown, "e1") is None


def test_signing_out_ends_one_session() -> None:
    """The other browser stays in."""
    sessions = Sessions(Clock())
    one, other = sessions.begin("e1"), sessions.begin("e1")
    sessions.end(one)
    sessions.end("never begun")
    assert sessions.of(one, "e1") is None
    assert sessions.of(other, "e1")


def test_not_more_than_so_many_are_kept() -> None:
    """The one that was silent longest goes."""
    clock = Clock()
    sessions = Sessions(clock)
    shown = []
    for _ in range(MOST):
        clock.now += 1
        shown.append(sessions.begin("e1"))
    clock.now += 1
    assert sessions.of(shown[0], "e1")
    sessions.begin("e1")
    assert sessions.of(shown[1], "e1") is None
    assert sessions.of(shown[0], "e1")
