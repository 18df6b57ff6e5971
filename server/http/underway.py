"""Requests under way, counted by who sent them, so that one caller cannot hold all that the service can hold.

Nothing here answers or waits for a request. Counts are of one thread, the server's loop.
"""

from __future__ import annotations

from collections import Counter
from typing import Any

from server.http.callers import is_address, is_here, network_of

# So many of one address at once: several phones of one house, each with the six connections of a browser.
EACH_MOST = 64
ALL_MOST = 1024


class Underway:
    """How many requests each caller has under way, and how many there are in all.

    Args of the constructor:
        each: the most of one caller [count]
        everyone: the most of all together [count]
    """

    def __init__(self, each: int = EACH_MOST, everyone: int = ALL_MOST) -> None:
        self.each = each
        self.everyone = everyone
        self._counts: Counter[str | None] = Counter()

    def enter(self, caller: str | None) -> bool:
        """Count one more request, also where it is beyond the limit.

        Args:
            caller: as from `sender_of` [text or None]

        Returns:
            whether it is within the limits [yes or no]
        """
        self._counts[caller] += 1
        return self._counts.total() <= self.everyone and (caller is None or self._counts[caller] <= self.each)

    def leave(self, caller: str | None) -> None:
        """A request that was counted has been answered."""
        self._counts[caller] -= 1
        if not self._counts[caller]:
            del self._counts[caller]


def sender_of(environ: dict[str, Any]) -> str | None:
    """Who sent a request: its address, or what a proxy on this machine says it is.

    Args:
        environ: the request's head [environment as PEP 3333 has it]

    Returns:
        an IP address, of IPv6 the network, since one house has more than can be counted; None for this machine itself,
        which is also a proxy that does not say for whom it asks [text or None]
    """
    remote = network_of(environ["REMOTE_ADDR"])
    if not is_here(remote):
        return remote
    # Only what stands on this machine is believed, and of its list only what it added itself, the last one.
    named = environ.get("HTTP_X_FORWARDED_FOR", "").rpartition(",")[2]
    return network_of(named) if is_address(named) else None
