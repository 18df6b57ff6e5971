"""Files beside the records in memory: a dictionary that does what the interface requires and no more.

No test lives here.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext

from sync.errors import DiskFull, LaybyError
from sync.records.store.files import Holds


class PlainFiles:
    """The contents by their names, and what was set aside."""

    place = "memory"

    def __init__(self) -> None:
        self.content: dict[str, bytes] = {}
        self.aside: dict[str, bytes] = {}

    def read(self, name: str) -> bytes:
        """A content."""
        if name not in self.content:
            raise FileNotFoundError(name)
        return self.content[name]

    def size(self, name: str) -> int | None:
        """How long it is."""
        return len(self.content[name]) if name in self.content else None

    def names(self, folder: str, beginning: str = "") -> list[str]:
        """The names in a folder and below it."""
        return sorted(name for name in self.content if name.startswith(f"{folder}/{beginning}"))

    def write(self, name: str, content: bytes) -> None:
        """Replace a content."""
        self.content[name] = content

    def add(self, name: str, content: bytes, is_first: bool) -> None:
        """Add to its end."""
        self.content[name] = content if is_first else self.content[name] + content

    def remove(self, name: str, is_durable: bool = True) -> None:
        """Remove it."""
        self.content.pop(name, None)

    def set_aside(self, name: str) -> str:
        """Keep it under another name."""
        aside = f"{name}.aside"
        self.aside[aside] = self.content.pop(name)
        return aside

    def settle(self, name: str | None = None) -> None:
        """Memory outlives nothing."""

    def check_room(self, count: int) -> None:
        """There is room."""

    def refused(self, error: OSError) -> LaybyError:
        """What is said of any error."""
        return DiskFull(free_mb=0, folder=str(error))

    def clear(self, marks: Sequence[bytes]) -> None:
        """Forget what was set aside with one of these marks."""
        self.aside = {name: one for name, one in self.aside.items() if not any(mark in one for mark in marks)}

    def claim(self, name: str) -> AbstractContextManager[Holds]:
        """Nobody else is there."""
        return nullcontext(lambda: None)
