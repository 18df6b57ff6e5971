"""Sessions: who is signed in at the desk's pages, kept only in memory and forgotten with the service.

Nothing here knows a passphrase or a cookie; a session is identified by the hash of what its browser shows.
"""

from __future__ import annotations

import hashlib
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

IDLE_S = 12 * 3600.0
MOST = 40


@dataclass
class Session:
    """One signed-in browser: the token that its forms must carry, the passphrase it knew, when it last asked."""

    form_token: str
    edition: str
    seen: float


class Sessions:
    """All sessions of one service.

    Args of the constructor:
        clock: tells the time, never backwards [function to s]
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.clock = clock
        self._open: dict[str, Session] = {}
        self._lock = threading.Lock()

    def begin(self, edition: str) -> str:
        """Sign a browser in; if there are too many, the one that was silent longest goes.

        Args:
            edition: which passphrase it knew [text]

        Returns:
            what the browser has to show from now on [text]
        """
        shown = secrets.token_urlsafe(32)
        with self._lock:
            self._open[_digest_of(shown)] = Session(secrets.token_urlsafe(32), edition, self.clock())
            while len(self._open) > MOST:
                self._open.pop(min(self._open, key=lambda digest: self._open[digest].seen))
        return shown

    def of(self, shown: str, edition: str | None) -> Session | None:
        """The session for what a browser shows; None if it has none, was silent too long, or the passphrase is new.

        Args:
            shown: from `begin` [text]
            edition: of the passphrase as it is now [text or None]

        Returns:
            the session [Session or None]
        """
        with self._lock:
            session = self._open.get(_digest_of(shown))
            if session is None:
                return None
            now = self.clock()
            if session.edition != edition or now - session.seen >= IDLE_S:
                del self._open[_digest_of(shown)]
                return None
            session.seen = now
            return session

    def end(self, shown: str) -> None:
        """Sign a browser out; harmless if it isn't signed in."""
        with self._lock:
            self._open.pop(_digest_of(shown), None)


def _digest_of(shown: str) -> str:
    return hashlib.sha256(shown.encode("utf-8", "replace")).hexdigest()
