"""Each visit is handled separately: if one goes wrong, it is logged in full and gets a reason, and the others go on.

Nothing here knows what is done with a visit. A full or failing disk isn't a visit's fault and still stops everything,
and so does a database that is away.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from sync.errors import Away, DiskFull, JournalFailed, LaybyError
from sync.kernel.reason import Reason

WHY_MOST = 200

log = logging.getLogger("layby.isolation")

Result = TypeVar("Result")


@dataclass(frozen=True)
class Odd:
    """One item of many, such as a visit, that something went wrong with, and what went wrong."""

    name: str
    why: str

    @property
    def reason(self) -> Reason:
        """The same, as a reason for a person [Reason]."""
        return {"code": "sheet_data", "values": {"why": self.why}}


def apart(name: str, work: Callable[[], Result], *passing: type[Exception]) -> Result | Odd:
    """Do something with one visit of many.

    Args:
        name: the visit's id, for the log and for the person who is told [text]
        work: what is to be done with it [function]
        passing: exceptions that the caller handles itself [classes of exceptions]

    Returns:
        the result of the work, or why there is none [anything or Odd]

    Raises:
        DiskFull, JournalFailed, Away, or one of `passing`.
    """
    try:
        return work()
    except Exception as error:  # whatever an odd visit trips over, the others must go on; a person is told
        if isinstance(error, (DiskFull, JournalFailed, Away, *passing)):
            raise
        # An error that was raised on purpose already says what is wrong, and the log may be somebody's terminal.
        log.error("%s cannot be worked out: %s", name, error, exc_info=not isinstance(error, LaybyError))
        why = " ".join(f"{type(error).__name__}: {error}".split())[:WHY_MOST]
        return Odd(name, why)


def each_apart(names: Iterable[str], work: Callable[[str], Result]) -> tuple[list[Result], list[Odd]]:
    """Do the same with each of many visits.

    Args:
        names: the visits' ids [texts]
        work: what to do with one [function of its id]

    Returns:
        the results in the order of the visits, and the visits without a result [list, list of Odd]
    """
    results: list[Result] = []
    odd: list[Odd] = []
    for name in names:
        result = apart(name, partial(work, name))
        if isinstance(result, Odd):
            odd.append(result)
        else:
            results.append(result)
    return results, odd
