"""Sessions: who is signed in at the desk's pages, known to every service over the same records.

Nothing here knows a passphrase or a cookie; a session is identified by the hash of what its browser shows.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import cast

from sync.kernel.json_tree import Json, JsonObject
from sync.records.shared_state import SharedState

IDLE_S = 12 * 3600.0
MOST = 120
# Somebody who asks all the time isn't written down each time.
SEEN_EVERY_S = 300.0


@dataclass(frozen=True)
class Session:
    """One signed-in browser: the token that its forms must carry, the passphrase it knew, when it last asked, and who
    is signed in with it, "" where a desk has one passphrase for everybody.
    """

    form_token: str
    edition: str
    seen: float
    person: str = ""


class Sessions:
    """All sessions.

    Args of the constructor:
        state: where they are kept [SharedState]
    """

    def __init__(self, state: SharedState) -> None:
        self.state = state

    def begin(self, edition: str, person: str = "") -> str:
        """Sign a browser in; if there are too many, the one that was silent longest goes.

        Args:
            edition: which passphrase it knew [text]
            person: whose that is, "" where there is one for everybody [id]

        Returns:
            what the browser has to show from now on [text]
        """
        shown = secrets.token_urlsafe(32)
        with self.state.changing() as kept:
            kept[_digest_of(shown)] = asdict(
                Session(secrets.token_urlsafe(32), edition, self.state.clock(), person))
            while len(kept) > MOST:
                del kept[min(kept, key=lambda digest: _session_in(kept[digest]).seen)]
        return shown

    def of(self, shown: str, edition_of: Callable[[str], str | None]) -> Session | None:
        """The session for what a browser shows; None if it has none, was silent too long, or the passphrase is new.

        Args:
            shown: from `begin` [text]
            edition_of: a person's passphrase as it is now, None if there is none [function from id to text or None]

        Returns:
            the session [Session or None]
        """
        digest, now = _digest_of(shown), self.state.clock()
        session = _open_in(self.state.read(), digest, edition_of, now)
        if session is None or now - session.seen >= SEEN_EVERY_S:
            with self.state.changing() as kept:
                session = _open_in(kept, digest, edition_of, now)
                if session is None:
                    kept.pop(digest, None)
                else:
                    kept[digest] = {**asdict(session), "seen": now}
        return session

    def end(self, shown: str) -> None:
        """Sign a browser out; harmless if it isn't signed in."""
        with self.state.changing() as kept:
            kept.pop(_digest_of(shown), None)


def _open_in(
    kept: JsonObject, digest: str, edition_of: Callable[[str], str | None], now: float
) -> Session | None:
    """A session that still holds; None without one."""
    session = _session_in(kept[digest]) if digest in kept else None
    if session is None or now - session.seen >= IDLE_S:
        return None
    return session if session.edition == edition_of(session.person) else None


def _session_in(row: Json) -> Session:
    # Only this module writes them.
    held = cast(dict[str, str | float], row)
    return Session(str(held["form_token"]), str(held["edition"]), float(held["seen"]), str(held.get("person", "")))


def _digest_of(shown: str) -> str:
    return hashlib.sha256(shown.encode("utf-8", "replace")).hexdigest()
