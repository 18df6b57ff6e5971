"""What all services over one store know for a while: who is signed in, how often a secret was tried.

Nothing here knows what it is. Where only one service has the store, it is kept in memory and forgotten with the
service.
"""

from __future__ import annotations

import copy
import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from sync.kernel.json_tree import JsonObject
from sync.records.locks import DOOR, claimed
from sync.records.store.files import Files, read_or_set_aside


class SharedState:
    """One JSON object, changed by one thread of one service at a time.

    Args of the constructor:
        files: those of a store that several services have open; None for memory [Files or None]
        name: its name among them [text]
        clock: tells the time to all who share it; by default this process's own in memory [function to s]
    """

    def __init__(self, files: Files | None, name: str, clock: Callable[[], float] | None = None) -> None:
        self.files = files
        self.name = name
        self.clock = clock or (time.monotonic if files is None else time.time)
        self._memory: JsonObject = {}
        self._lock = threading.Lock()

    def read(self) -> JsonObject:
        """What it is now; changes to it are lost [JSON object]."""
        if self.files is None:
            with self._lock:
                return copy.deepcopy(self._memory)
        return read_or_set_aside(self.files, self.name, _object_in) or {}

    @contextmanager
    def changing(self) -> Iterator[JsonObject]:
        """What it is now, to be changed in place; what the block leaves is kept, unless it raises.

        Yields:
            the object [JSON object]

        Raises:
            OSError: it wasn't accepted; it stays as it was.
        """
        if self.files is None:
            with self._lock:
                after = copy.deepcopy(self._memory)
                yield after
                self._memory = after
            return
        with claimed(DOOR, self.files.claim):
            after = self.read()
            before = copy.deepcopy(after)
            yield after
            if after != before:
                self.files.write(self.name, json.dumps(after).encode("ascii"))


def _object_in(content: bytes) -> JsonObject:
    tree = json.loads(content)
    if not isinstance(tree, dict):
        raise TypeError("no object")
    return tree
