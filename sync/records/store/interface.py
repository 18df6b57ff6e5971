"""The store: numbered records that are the truth, and the views made from them, as any store has to keep them.

Nothing here keeps anything, and nothing knows what a record means. Tests that run on every store hold the contract
(`tests/records/test_store.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from sync.errors import LaybyError
from sync.kernel.json_tree import JsonObject
from sync.records.store.files import Files, Holds
from sync.records.store.register import Register
from sync.wire.results import Result

# The number before the first record.
NONE = -1

# Called with how far something is, and how far it has to go.
Watch = Callable[[int, int], None]
# The rows of a view by their keys, by table.
Tables = dict[str, dict[str, JsonObject]]


class RecordDamaged(LaybyError):
    """A record that was once written doesn't read back as it was."""

    code = "record_damaged"


class ForeignView(LaybyError):
    """A view that can't be read, or was made from other records than these."""

    code = "foreign_view"


class Entry(NamedTuple):
    """A record to be: when its line came in [ms since 1970], what was answered, and the line [bytes]."""

    received_ms: int
    result: Result
    line: bytes


class Mark(NamedTuple):
    """A record by its number and its check, which identified it when it was written [count, 8 hex digits]."""

    number: int
    check: str


@dataclass(frozen=True, slots=True)
class Record:
    """One record: its number, when its line came in [ms since 1970], what was answered, the line, and its check.

    The check identified it when it was written; a blank has that of the record it replaces.
    """

    number: int
    received_ms: int
    result: Result
    line: bytes
    check: str

    @property
    def mark(self) -> Mark:
        """What a view or a cursor notes about it [Mark]."""
        return Mark(self.number, self.check)


START = Mark(NONE, "0" * 8)


class Damage(NamedTuple):
    """Records that don't read back: from one number up to, but not including, another [count]."""

    first: int
    end: int

    def __contains__(self, number: object) -> bool:
        return isinstance(number, int) and self.first <= number < self.end


@dataclass
class StoredView:
    """A view as it is kept: its tables, and the latest record entered on them."""

    covers: Mark
    tables: Tables


class Views(Protocol):
    """The views of a store, each under a name such as `days/2026-06-12`."""

    @property
    def register(self) -> Register | None:
        """What finds visits without reading views; None if their views are searched in memory [Register or None]."""

    def names(self, folder: str) -> list[str]:
        """The names of all views in one of their folders, in order [texts]."""

    def count(self) -> int:
        """How many views there are [count]."""

    def read(self, name: str) -> StoredView | None:
        """A view, None if there is none [StoredView].

        Raises:
            ForeignView: it can't be used and was set aside.
        """

    def write(self, name: str, view: StoredView) -> None:
        """Replace a view whole.

        Raises:
            OSError: it wasn't accepted; the old view stays.
        """

    def replace(self, views: Mapping[str, StoredView]) -> None:
        """Replace some views whole, even with versions that have less. Other services can no longer write the versions
        that they have in memory.

        Raises:
            OSError: not all were accepted.
        """

    def complete(self) -> Mark:
        """The latest record that all views are known to have; START if that can't be told [Mark]."""

    def set_complete(self, mark: Mark) -> None:
        """Note that all views have every record up to this one.

        Raises:
            OSError: it wasn't accepted.
        """

    def forget_complete(self) -> None:
        """Note that views may be missing, before one is."""


class Unshared:
    """What a store that only one process has open says of others."""

    is_shared = False

    def look(self) -> bool:
        """Nobody else is there; see `Store.look`."""
        return False

    def alone(self) -> AbstractContextManager[None]:
        """Nobody else is there; see `Store.alone`."""
        return nullcontext()

    def claim(self, name: str, is_shared: bool = False) -> AbstractContextManager[Holds]:
        """Nobody else is there; see `Store.claim`."""
        return nullcontext(lambda: None)


class Store(Protocol):
    """The records of one desk, and the files that they refer to. Numbers grow, but may have gaps.

    `stretch` is the range of numbers that a few thousand records take. One thread appends at a time; any number may
    read. `is_shared` says whether other processes may have the same records open.
    """

    stretch: int
    is_shared: bool

    @property
    def views(self) -> Views:
        """The views of these records."""

    @property
    def files(self) -> Files:
        """What lies beside the records."""

    @property
    def last(self) -> int:
        """The number of the latest record; NONE before the first."""

    @property
    def refusal(self) -> LaybyError | None:
        """Why nothing can be appended, and nothing appended be promised, until a new start; None if it can."""

    @property
    def damage(self) -> list[Damage]:
        """What is known not to read back, in order."""

    @property
    def aside(self) -> list[str]:
        """The names of files that were set aside because they can't be used."""

    def look(self) -> bool:
        """Look what other processes did; `last` then counts what they appended.

        Returns:
            whether views were struck or replaced since, so that those in memory have to be read again [bool]
        """

    def alone(self) -> AbstractContextManager[None]:
        """Nobody else appends meanwhile, in any process; may be taken again by who has it."""

    def claim(self, name: str, is_shared: bool = False) -> AbstractContextManager[Holds]:
        """Only one holder at a time, in any process; a holder that dies holds nothing any more.

        Args:
            name: what is claimed, by its lock's name [text]
            is_shared: whether others may hold it too, if they say the same [truth]

        Yields:
            checks that the claim still holds, before something is done that nobody can take back [function]
        """

    def append(self, entries: Sequence[Entry]) -> list[Record]:
        """Append records, all of them or none, durably before this returns.

        Args:
            entries: their content [Entry each]

        Returns:
            the records, each with its number [Record each]

        Raises:
            DiskFull: there is too little room; nothing is left behind.
            JournalFailed: the disk refused in a way that leaves its state unknown; also on every later call.
        """

    def read(self, number: int) -> Record:
        """One record.

        Raises:
            RecordDamaged: it doesn't read back, or no record has that number.
        """

    def check_of(self, number: int) -> str:
        """The check of a record, even if it has been blanked since; zeros if none begins there [8 hex digits]."""

    def records(self, after: int = NONE, watch: Watch | None = None) -> Iterator[Record]:
        """Every record that reads back, in order; anything else is named in `damage`.

        Args:
            after: only those with a larger number; must be the number of a record [count]
            watch: called after each record with how far it is and how far it has to go [function]

        Returns:
            the records, read as they are requested, including those appended meanwhile [iterator of Record]
        """

    def settle_end(self) -> None:
        """All records were read: what an unfinished write left at the end is set aside."""

    def note_end(self) -> None:
        """Nobody is appending right now: note whatever makes the next start quick.

        Raises:
            OSError: it wasn't accepted; the next start takes longer.
        """

    def check_room(self) -> None:
        """Check that there is room for `blank`.

        Raises:
            DiskFull: there isn't.
        """

    def blank(self, numbers: Sequence[int], marks: Sequence[bytes] = ()) -> None:
        """Empty records but keep their numbers; others may append and read meanwhile.

        Args:
            numbers: of the records [counts]
            marks: lines within damaged stretches go too if they contain one of these [bytes each]

        Raises:
            DiskFull, OSError: nothing was changed.
            JournalFailed: nobody knows what the disk has of it; nothing is appended until a new start.
        """

    def give_up(self) -> list[str]:
        """Set damage aside for a person, and put blanks of status "lost" in its place.

        Returns:
            the names of the files that hold it now [texts]
        """

    def scratch_views(self) -> Views:
        """Empty views, to be filled beside those in use [Views]."""

    def adopt(self, views: Views) -> None:
        """Let such views replace those in use."""

    def close(self, clean: bool) -> None:
        """Release everything; `clean` if everything requested came to its end."""
