"""Limits on how often a secret may be tried: by one caller and by all together, kept only in memory.

Nothing here knows what is tried or who a caller is. A restart forgets the tries; those that must outlast it (at a
pairing code) are counted in the records.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable

from sync.errors import LaybyError


class TooOften(LaybyError):
    """Too many tries; `wait_s` says how long to wait."""

    code = "too_often"


class Limit:
    """At most this many failed tries, within a sliding period.

    Args of the constructor:
        by_one: by one caller [count]
        by_all: by all together except those who are apart [count]
        within_s: in this period [s]
        clock: tells the time, never backwards [function to s]
    """

    def __init__(self, by_one: int, by_all: int, within_s: float, clock: Callable[[], float] = time.monotonic) -> None:
        self.by_one = by_one
        self.by_all = by_all
        self.within_s = within_s
        self.clock = clock
        self._tries: list[tuple[float, str, bool]] = []
        self._lock = threading.Lock()

    def enter(self, caller: str, is_apart: bool = False) -> tuple[float, str, bool]:
        """Count a try before it is made, so that many at once cannot slip through.

        Args:
            caller: who tries [text]
            is_apart: whether only their own tries hold them up, and count against nobody else [truth]

        Returns:
            the try, for `forgive` [mark]

        Raises:
            TooOften: wait_s [s].
        """
        with self._lock:
            now = self.clock()
            self._tries = [one for one in self._tries if now - one[0] < self.within_s]
            mine = [at for at, who, apart in self._tries if (who, apart) == (caller, is_apart)]
            others = [] if is_apart else [at for at, _, apart in self._tries if not apart]
            for tries, most in ((mine, self.by_one), (others, self.by_all)):
                if len(tries) >= most:
                    raise TooOften(wait_s=max(1, math.ceil(tries[-most] + self.within_s - now)))
            mark = (now, caller, is_apart)
            self._tries.append(mark)
            return mark

    def forgive(self, mark: tuple[float, str, bool]) -> None:
        """A try that was right doesn't count."""
        with self._lock:
            if mark in self._tries:
                self._tries.remove(mark)
