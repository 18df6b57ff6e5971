"""Whose turn it is in a folder: work over the whole of it alone, work on single visits side by side.

Nothing here knows what the work is. One for the process, since one process holds a folder.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

# Backup, export, erasure and rebuild read or change the journal as a file: one of them at a time.
ALONE = threading.RLock()


class Locks:
    """Any number side by side, or one alone. Who asks to be alone waits for those at work, and holds up later ones.

    Neither kind may be asked for inside the other.
    """

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._at_work = 0
        self._alone = False

    @property
    def awaited(self) -> bool:
        """Whether somebody is alone, or waits to be."""
        return self._alone

    @contextmanager
    def together(self) -> Iterator[None]:
        """Work beside others, but not while somebody is alone."""
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


# Sheets and letters of visits: none may be under way while a visit is erased, or it would be written after.
SHEETS = Locks()
