"""The locks of one process, in the only order in which they may be taken: hold one, and ask only for later ones.

Nothing here knows what the work is. Only one process holds a folder, so for a folder these are all the locks there are;
over a database several services work, and `Logbook.claim` and `Logbook.writing` ask that one too.

| rank | lock | held while |
| --- | --- | --- |
| 1 | SHEETS | sheets and letters are made, side by side; or exclusively, while a visit is erased |
| 2 | ALONE | records are read as a whole: backup, export, erasure, rebuild, one at a time |
| 3 | PRINTING, APPROVING, SENDING | the sheets to be printed (approved, sent) are found and noted |
| 4 | RECORDS | records and views are read and changed together; the logbook's own |
| 5 | FILES | one of the small files beside the records, or a photo, is read and written |
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import TracebackType

RANKS = {"sheets": 1, "alone": 2, "printing": 3, "approving": 3, "sending": 3, "records": 4, "files": 5}
RECORDS, FILES = "records", "files"

_mine = threading.local()


class OutOfOrder(RuntimeError):
    """A thread asked for a lock while holding a later one: two threads that do so may wait for each other for ever."""


def _ranks() -> list[int]:
    ranks: list[int] = getattr(_mine, "ranks", None) or []
    _mine.ranks = ranks
    return ranks


class Ranked:
    """A lock that its thread may take again, and that a thread may ask for only if it holds no later one.

    Args of the constructor:
        name: what it is called, and so its rank [one of RANKS]
        entered: called by whoever took it, before anything else is done under it [function]
    """

    def __init__(self, name: str, entered: Callable[[], None] | None = None) -> None:
        self.name = name
        self.entered = entered
        self._rank = RANKS[name]
        self._lock = threading.Lock()
        self._owner, self._depth = 0, 0

    @property
    def is_mine_again(self) -> bool:
        """Whether the thread that holds it took it more than once."""
        return self._depth > 1

    def __enter__(self) -> bool:
        me = threading.get_ident()
        if self._owner == me:
            # Already held, several times for each operation that is filed.
            self._depth += 1
            return True
        ranks = _ranks()
        if ranks and ranks[-1] > self._rank:
            held = [name for name, rank in RANKS.items() if rank == ranks[-1]]
            raise OutOfOrder(f"{self.name} after {' or '.join(held)}")
        self._lock.acquire()
        self._owner, self._depth = me, 1
        ranks.append(self._rank)
        if self.entered is not None:
            self._enter(self.entered)
        return True

    def _enter(self, entered: Callable[[], None]) -> None:
        try:
            entered()
        except BaseException:
            self.__exit__(None, None, None)
            raise

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._depth -= 1
        if not self._depth:
            self._owner = 0
            _ranks().pop()
            self._lock.release()


class Locks:
    """Any number side by side, or one exclusively; waiting for exclusive use holds up later ones.

    Neither kind may be taken inside the other, nor inside any other lock of this module.
    """

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._at_work = 0
        self._alone = False

    @property
    def awaited(self) -> bool:
        """Whether a thread has exclusive use, or waits for it."""
        return self._alone

    @contextmanager
    def together(self) -> Iterator[None]:
        """Work beside others, but not while a thread has exclusive use."""
        with self._changed:
            self._changed.wait_for(lambda: not self._alone)
            self._at_work += 1
        try:
            yield
        finally:
            with self._changed:
                self._at_work -= 1
                self._changed.notify_all()

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Work while nobody else does."""
        with self._changed:
            self._changed.wait_for(lambda: not self._alone)
            self._alone = True
            self._changed.wait_for(lambda: self._at_work == 0)
        try:
            yield
        finally:
            with self._changed:
                self._alone = False
                self._changed.notify_all()


# Sheets and letters of visits: none may be in progress while a visit is erased, or it would be written afterwards.
SHEETS = Locks()
ALONE = Ranked("alone")
# What was found unprinted or unapproved must still be so when it is noted. Otherwise a sheet that was approved
# meanwhile would be reported as made again, and one that was sent meanwhile would be approved again. Two runs that sent
# side by side would both find a letter unsent and both hand it over.
PRINTING, APPROVING, SENDING = Ranked("printing"), Ranked("approving"), Ranked("sending")
