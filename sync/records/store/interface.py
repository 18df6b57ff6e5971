"""The store: numbered records that are the truth, and the views that are made of them, as any store has to keep them.

Nothing here keeps anything, and nothing here knows what a record means. The contract is held by tests that run on every
store (`tests/records/test_store.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from sync.errors import LaybyError
from sync.kernel.json_tree import JsonObject
from sync.wire.results import Result

# The number before the first record.
NONE = -1

# Called with how far something is, and how far it goes.
Watch = Callable[[int, int], None]
# The rows of a view by their keys, by table.
Tables = dict[str, dict[str, JsonObject]]


class RecordDamaged(LaybyError):
    """A record that was once written does not read back as it was."""

    code = "record_damaged"


class ForeignView(LaybyError):
    """A view that cannot be read, or was made from other records than these."""

    code = "foreign_view"


class Entry(NamedTuple):
    """What is to become a record: when its line came in [ms since 1970], what was answered, and the line [bytes]."""

    received_ms: int
    result: Result
    line: bytes


class Mark(NamedTuple):
    """A record by its number and by its check: what it was known by when it was written [count, 8 hex digits]."""

    number: int
    check: str


@dataclass(frozen=True, slots=True)
class Record:
    """One record: its number, when its line came in [ms since 1970], what was answered, the line, and its check.

    The check is what it was known by when it was written; a blank bears that of the record it stands for.
    """

    number: int
    received_ms: int
    result: Result
    line: bytes
    check: str

    @property
    def mark(self) -> Mark:
        """What a view or a cursor notes of it [Mark]."""
        return Mark(self.number, self.check)


START = Mark(NONE, "0" * 8)


class Damage(NamedTuple):
    """Records that do not read back: from one number up to, not including, another [count]."""

    first: int
    end: int

    def __contains__(self, number: object) -> bool:
        return isinstance(number, int) and self.first <= number < self.end


@dataclass
class StoredView:
    """A view as it is kept: its tables, and the latest record that stands on them."""

    covers: Mark
    tables: Tables


class Views(Protocol):
    """The views of a store, each under a name such as `days/2026-06-12`."""

    def names(self, folder: str) -> list[str]:
        """The names of all views in a folder of them, in order [texts]."""

    def count(self) -> int:
        """How many views there are [count]."""

    def read(self, name: str) -> StoredView | None:
        """A view, None where there is none [StoredView].

        Raises:
            ForeignView: it cannot be used; it was set aside.
        """

    def write(self, name: str, view: StoredView) -> None:
        """Replace a view whole.

        Raises:
            OSError: it was not taken; what stood there stands.
        """

    def complete(self) -> Mark:
        """The latest record that all views are known to have; START where that cannot be told [Mark]."""

    def set_complete(self, mark: Mark) -> None:
        """Note that all views have every record up to this one.

        Raises:
            OSError: it was not taken.
        """

    def forget_complete(self) -> None:
        """Note that views may be missing, before one of them is."""


class Store(Protocol):
    """The records of one desk. Numbers grow; they need not follow one another without gaps.

    `stretch` is so many numbers as some thousand records take. One thread appends at a time; any number may read.
    """

    stretch: int

    @property
    def views(self) -> Views:
        """The views of these records."""

    @property
    def last(self) -> int:
        """The number of the latest record, NONE before the first."""

    @property
    def refusal(self) -> LaybyError | None:
        """Why nothing can be appended until a new start, and nothing be promised of what was; None where it can."""

    @property
    def damage(self) -> list[Damage]:
        """What is known not to read back, in order."""

    @property
    def aside(self) -> list[str]:
        """The names of files that were set aside because they cannot be used."""

    def append(self, entries: Sequence[Entry]) -> list[Record]:
        """Append records, all of them or none, durable before this returns.

        Args:
            entries: what they are to hold [Entry each]

        Returns:
            the records, each with its number [Record each]

        Raises:
            DiskFull: there is too little room; nothing is left behind.
            JournalFailed: the disk refused in a way that leaves its state unknown; also on every later call.
        """

    def read(self, number: int) -> Record:
        """One record.

        Raises:
            RecordDamaged: it does not read back, or no record bears that number.
        """

    def check_of(self, number: int) -> str:
        """The check of a record, also of one that was blanked since; zeros where none begins [8 hex digits]."""

    def records(self, after: int = NONE, watch: Watch | None = None) -> Iterator[Record]:
        """Every record that reads back, in order; what does not is named in `damage`.

        Args:
            after: only those with a greater number; a number that a record bears [count]
            watch: called behind each record with how far it is and how far it goes [function]

        Returns:
            the records, read as they are asked for; those appended meanwhile among them [iterator of Record]
        """

    def settle_end(self) -> None:
        """All records were read: what an unfinished write left at the end is set aside."""

    def note_end(self) -> None:
        """Nobody appends right now: whatever lets the next start be quick is noted.

        Raises:
            OSError: it was not taken; the next start takes longer.
        """

    def check_room(self) -> None:
        """See that there is room for `blank`.

        Raises:
            DiskFull: there is not.
        """

    def blank(self, numbers: Sequence[int], marks: Sequence[bytes] = ()) -> None:
        """Let records hold nothing any more, and keep their numbers; others may append and read meanwhile.

        Args:
            numbers: of the records [counts]
            marks: lines within damaged stretches go as well where they bear one of these [bytes each]

        Raises:
            DiskFull, OSError: nothing was changed.
            JournalFailed: nobody knows what the disk has of it; nothing is appended until a new start.
        """

    def give_up(self) -> list[str]:
        """Set what is damaged aside for a person, and let blanks of status "lost" stand in its place.

        Returns:
            the names of the files that hold it now [texts]
        """

    def scratch_views(self) -> Views:
        """Empty views to be filled beside those that are in use [Views]."""

    def adopt(self, views: Views) -> None:
        """Let such views take the place of those in use."""

    def close(self, clean: bool) -> None:
        """Let everything go; `clean` where all that was asked for came to its end."""
