"""Requests in progress, counted by who sent them, so that one caller can't take up the whole service.

Nothing here answers or waits for a request. Only one thread counts, the server's loop.
"""

from __future__ import annotations

from collections import Counter
from typing import Any

from server.http.callers import is_address, is_here, network_of

# This many from one address at once: several phones of one house, each with a browser's six connections.
EACH_MOST = 64
ALL_MOST = 1024


class Underway:
    """How many requests each caller has in progress, and how many there are in all.

    Args of the constructor:
        each: the maximum for one caller [count]
        everyone: the maximum for all together [count]
    """

    def __init__(self, each: int = EACH_MOST, everyone: int = ALL_MOST) -> None:
        self.each = each
        self.everyone = everyone
        self._counts: Counter[str | None] = Counter()

    def enter(self, caller: str | None) -> bool:
        """Count one more request, even if it is beyond the limit.

        Args:
            caller: as from `sender_of` [text or None]

        Returns:
            whether it is within the limits [yes or no]
        """
        self._counts[caller] += 1
        return self._counts.total() <= self.everyone and (caller is None or self._counts[caller] <= self.each)

    def leave(self, caller: str | None) -> None:
        """A counted request has been answered."""
        self._counts[caller] -= 1
        if not self._counts[caller]:
            del self._counts[caller]


def sender_of(environ: dict[str, Any]) -> str | None:
    """Who sent a request: its address, or what a proxy on this machine says it is.

    Args:
        environ: the request's head [environment as in PEP 3333]

    Returns:
        an IP address, for IPv6 the network, because one house has more addresses than can be counted; None for this
        machine itself, which is also a proxy that doesn't say who it asks for [text or None]
    """
    remote = network_of(environ["REMOTE_ADDR"])
    if not is_here(remote):
        return remote
    # Only a proxy on this machine is trusted, and in its list only what it added itself, the last entry.
    named = environ.get("HTTP_X_FORWARDED_FOR", "").rpartition(",")[2]
    return network_of(named) if is_address(named) else None
