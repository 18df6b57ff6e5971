"""Limits on how often a secret may be tried: by one caller and by all together, at every service over the same records.

Nothing here knows what is tried or who a caller is. Where one service is alone, a restart forgets the tries; those that
must outlast it (at a pairing code) are counted in the records.
"""

from __future__ import annotations

import math
from typing import NamedTuple, cast

from sync.errors import LaybyError
from sync.kernel.json_tree import Json
from sync.records.shared_state import SharedState

_TRIES = "tries"


class TooOften(LaybyError):
    """Too many tries; `wait_s` says how long to wait."""

    code = "too_often"


class Try(NamedTuple):
    """One try: when [s], by whom, and whether it counts against nobody else."""

    at: float
    caller: str
    is_apart: bool


class Limit:
    """At most this many failed tries, within a sliding period.

    Args of the constructor:
        by_one: by one caller [count]
        by_all: by all together except those who are apart [count]
        within_s: in this period [s]
        state: where the tries are kept [SharedState]
    """

    def __init__(self, by_one: int, by_all: int, within_s: float, state: SharedState) -> None:
        self.by_one = by_one
        self.by_all = by_all
        self.within_s = within_s
        self.state = state

    def enter(self, caller: str, is_apart: bool = False) -> Try:
        """Count a try before it is made, so that many at once cannot slip through.

        Args:
            caller: who tries [text]
            is_apart: whether only their own tries hold them up, and count against nobody else [truth]

        Returns:
            the try, for `forgive` [Try]

        Raises:
            TooOften: wait_s [s].
        """
        with self.state.changing() as kept:
            now = self.state.clock()
            tries = [one for one in _tries_in(kept.get(_TRIES)) if now - one.at < self.within_s]
            mine = [one.at for one in tries if (one.caller, one.is_apart) == (caller, is_apart)]
            others = [] if is_apart else [one.at for one in tries if not one.is_apart]
            for times, most in ((mine, self.by_one), (others, self.by_all)):
                if len(times) >= most:
                    raise TooOften(wait_s=max(1, math.ceil(times[-most] + self.within_s - now)))
            mark = Try(now, caller, is_apart)
            kept[_TRIES] = _rows([*tries, mark])
            return mark

    def forgive(self, mark: Try) -> None:
        """A try that was right doesn't count."""
        with self.state.changing() as kept:
            tries = _tries_in(kept.get(_TRIES))
            if mark in tries:
                tries.remove(mark)
            kept[_TRIES] = _rows(tries)


def _tries_in(rows: Json) -> list[Try]:
    # Only this module writes them.
    return [Try(*cast(tuple[float, str, bool], row)) for row in cast(list[Json], rows or [])]


def _rows(tries: list[Try]) -> list[Json]:
    return [list(one) for one in tries]
