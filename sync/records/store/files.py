"""The files of a store: whole contents under names, beside the records that refer to them, as any store keeps them.

Nothing here keeps anything, and nothing knows what is in a file. Tests that run on every kind hold the contract
(`tests/records/test_files.py`).
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from typing import Protocol, TypeVar

from sync.errors import LaybyError, NotOwn

# Raises DatabaseAway if a claim was lost meanwhile, so that another may hold it.
Holds = Callable[[], None]
_Content = TypeVar("_Content")

log = logging.getLogger("layby.files")


class Files(Protocol):
    """Contents under names such as `settings.json` or `sheets/<visit>-<revision>.pdf`; any number of threads.

    What is before the last slash of a name is its folder. Whoever reads a file, changes it and writes it again holds
    the claim on it meanwhile.
    """

    @property
    def place(self) -> str:
        """Where they are, for a person [text]."""

    def read(self, name: str) -> bytes:
        """A content [bytes].

        Raises:
            FileNotFoundError: there is none.
            NotOwn: it is a link, or lies elsewhere.
            OSError: it can't be read.
        """

    def size(self, name: str) -> int | None:
        """How long a content is; None if there is none [bytes]."""

    def names(self, folder: str, beginning: str = "") -> list[str]:
        """The names in a folder and below it, in order.

        Args:
            folder: such as `sheets`, without a slash at its end [text]
            beginning: only those that begin with this after the folder's own name and its slash [text]

        Returns:
            the whole names [texts]
        """

    def write(self, name: str, content: bytes) -> None:
        """Replace a content, durably before this returns: it is the old one or the new, never a mixture.

        Raises:
            OSError: it wasn't accepted; the old content stays.
        """

    def add(self, name: str, content: bytes, is_first: bool) -> None:
        """Add to the end of a content, durably before this returns.

        Args:
            name: whose [text]
            content: what is added, all of it or nothing [bytes]
            is_first: whether it replaces what was there [truth]

        Raises:
            OSError: it wasn't accepted; what was there stays, unless this was the first.
        """

    def remove(self, name: str, is_durable: bool = True) -> None:
        """Remove a content; harmless if there is none.

        Args:
            name: which [text]
            is_durable: whether it has to stay away through any crash; otherwise only from `settle` on [truth]
        """

    def set_aside(self, name: str) -> str:
        """Rename a content that can't be used, so that a person can still look at it [its new name]."""

    def settle(self, name: str | None = None) -> None:
        """Whatever was written or removed so far stays so through any crash, even if a killed process did it.

        Args:
            name: only this content; all of them if None [text or None]

        Raises:
            OSError: it wasn't accepted.
        """

    def check_room(self, count: int) -> None:
        """Check that there is room for this many bytes.

        Raises:
            DiskFull: there isn't.
        """

    def refused(self, error: OSError) -> LaybyError:
        """What a person is told when a content wasn't accepted [LaybyError]."""

    def clear(self, marks: Sequence[bytes]) -> None:
        """Remove copies that were set aside if they hold one of these marks, and what is left of unfinished writes.
        """

    def claim(self, name: str) -> AbstractContextManager[Holds]:
        """Only one holder at a time, in any process; a holder that dies holds nothing any more.

        Args:
            name: what is claimed, by its lock's name [text]

        Yields:
            raises DatabaseAway if the claim was lost meanwhile [function]
        """


def read_or_set_aside(files: Files, name: str, shaped: Callable[[bytes], _Content]) -> _Content | None:
    """A content in its shape. If it isn't what it should be, it is set aside and named, so that the rest works.

    Args:
        files: where it is [Files]
        name: which [text]
        shaped: turns its bytes into what they mean [function]

    Returns:
        what it means; None if there is none, or no usable one [anything or None]
    """
    try:
        return shaped(files.read(name))
    except FileNotFoundError:
        return None
    except (NotOwn, ValueError, KeyError, TypeError, AttributeError, IndexError, RecursionError, IsADirectoryError):
        log.error("%s cannot be read as what it should be; set aside as %s", name, files.set_aside(name))
        return None
