"""Limits on how often a secret may be tried: by one address and by all together, kept in memory alone.

Nothing here knows what is tried. A restart forgets the tries; what must outlast one (the tries at a pairing code) is
counted in the records.
"""

from __future__ import annotations

import ipaddress
import math
import threading
import time
from collections.abc import Callable

from sync.errors import LaybyError


class TooOften(LaybyError):
    """Too many tries; `wait_s` says how long to wait."""

    code = "too_often"


class Limit:
    """At most so many tries that failed, within a time that moves along.

    Args of the constructor:
        by_one: by one address [count]
        by_all: by all together; also the most that is ever remembered [count]
        within_s: in how long a time [s]
        clock: tells the time, never backwards [function to s]
    """

    def __init__(self, by_one: int, by_all: int, within_s: float, clock: Callable[[], float] = time.monotonic) -> None:
        self.by_one = by_one
        self.by_all = by_all
        self.within_s = within_s
        self.clock = clock
        self._tries: list[tuple[float, str]] = []
        self._lock = threading.Lock()

    def enter(self, address: str) -> tuple[float, str]:
        """Count a try before it is made, so that many at once cannot slip through.

        Args:
            address: who tries [IP address; any other text is one caller]

        Returns:
            the try, for `forgive` [mark]

        Raises:
            TooOften: wait_s [s].
        """
        with self._lock:
            now, caller = self.clock(), _caller(address)
            self._tries = [(at, who) for at, who in self._tries if now - at < self.within_s]
            mine = [at for at, who in self._tries if who == caller]
            everyone = [at for at, _ in self._tries]
            for tries, most in ((mine, self.by_one), (everyone, self.by_all)):
                if len(tries) >= most:
                    raise TooOften(wait_s=max(1, math.ceil(tries[-most] + self.within_s - now)))
            self._tries.append((now, caller))
            return now, caller

    def forgive(self, mark: tuple[float, str]) -> None:
        """A try that was right does not count."""
        with self._lock:
            if mark in self._tries:
                self._tries.remove(mark)


def _caller(address: str) -> str:
    """Who an address stands for: itself, or of IPv6 its network, since one house has more than can be counted."""
    try:
        caller = ipaddress.ip_address(address.strip("[]").partition("%")[0])
    except ValueError:
        return address
    if isinstance(caller, ipaddress.IPv6Address) and caller.ipv4_mapped is None:
        return str(ipaddress.ip_network((caller, 64), strict=False))
    return str(getattr(caller, "ipv4_mapped", None) or caller)
