"""The locks of one process, in the only order in which they may be taken: hold one, and ask only for later ones.

Nothing here knows what the work is. Only one process holds a folder, so for a folder these are all the locks there are;
over a database several services work, and `Logbook.claim` and `Logbook.writing` ask that one too.

| rank | lock | held while |
| --- | --- | --- |
| 1 | SHEETS | sheets and letters are made, side by side; or exclusively, while a visit is erased |
| 2 | ALONE | records are read as a whole: backup, export, erasure, rebuild, one at a time |
| 3 | PRINTING, APPROVING, SENDING | the sheets to be printed (approved, sent) are found and noted |
| 4 | RECORDS | records and views are read and changed together; the logbook's own |
| 5 | DEVICES, PASSPHRASE, PHOTOS, SETTINGS, MAIL_TRIAL, DOOR | a file beside the records is read and written |
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from types import TracebackType
from typing import TypeVar

from sync.records.store.files import Holds

RANKS = {
    "sheets": 1, "alone": 2, "printing": 3, "approving": 3, "sending": 3, "records": 4, "devices": 5, "passphrase": 5,
    "photos": 5, "settings": 5, "mail-trial": 5, "door": 5,
}
RECORDS = "records"

_Held = TypeVar("_Held")

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


@contextmanager
def claimed(lock: Ranked, claim: Callable[[str], AbstractContextManager[_Held]]) -> Iterator[_Held | None]:
    """Nobody else holds a lock meanwhile, in this process or any other.

    Args:
        lock: of this process [Ranked]
        claim: takes the lock of that name among processes [function to context manager]

    Yields:
        what the claim yields; None if this thread holds it already
    """
    with lock:
        if lock.is_mine_again:
            yield None
            return
        with claim(lock.name) as held:
            yield held


# Takes a lock among processes: its name, and whether any number may have it side by side.
Claim = Callable[[str, bool], AbstractContextManager[Holds]]


class Locks:
    """Any number side by side, or one exclusively; waiting for exclusive use holds up later ones of this process.

    Neither kind may be taken inside the other, nor inside any other lock of this module.

    Args of the constructor:
        name: what it is called [one of RANKS]
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self._changed = threading.Condition()
        self._at_work = 0
        self._alone = False
        self._claims = ExitStack()

    @property
    def awaited(self) -> bool:
        """Whether a thread has exclusive use, or waits for it."""
        return self._alone

    @contextmanager
    def together(self, claim: Claim) -> Iterator[None]:
        """Work beside others, but not while somebody has exclusive use.

        Args:
            claim: for all who are at work in this process, the first takes it and the last gives it back [function]
        """
        with self._changed:
            self._changed.wait_for(lambda: not self._alone)
            if not self._at_work:
                self._claims.enter_context(claim(self.name, True))
            self._at_work += 1
        try:
            yield
        finally:
            with self._changed:
                self._at_work -= 1
                if not self._at_work:
                    self._claims.close()
                self._changed.notify_all()

    @contextmanager
    def alone(self, claim: Claim) -> Iterator[None]:
        """Work while nobody else does.

        Args:
            claim: takes it among processes [function]
        """
        with self._changed:
            self._changed.wait_for(lambda: not self._alone)
            self._alone = True
            self._changed.wait_for(lambda: self._at_work == 0)
        try:
            with claim(self.name, False):
                yield
        finally:
            with self._changed:
                self._alone = False
                self._changed.notify_all()


# Sheets and letters of visits: none may be in progress while a visit is erased, or it would be written afterwards.
SHEETS = Locks("sheets")
ALONE = Ranked("alone")
# What was found unprinted or unapproved must still be so when it is noted. Otherwise a sheet that was approved
# meanwhile would be reported as made again, and one that was sent meanwhile would be approved again. Two runs that sent
# side by side would both find a letter unsent and both hand it over.
PRINTING, APPROVING, SENDING = Ranked("printing"), Ranked("approving"), Ranked("sending")
# One for the process, not per object: several may be open over one folder.
DEVICES, PASSPHRASE, PHOTOS = Ranked("devices"), Ranked("passphrase"), Ranked("photos")
SETTINGS, MAIL_TRIAL, DOOR = Ranked("settings"), Ranked("mail-trial"), Ranked("door")
