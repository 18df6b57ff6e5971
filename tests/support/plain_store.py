"""A store of records in memory that does what the interface requires and no more: dictionaries, and numbers with gaps.

No test lives here. It differs from the desk's own store on purpose: numbers aren't bytes, checks aren't CRCs.
"""

from __future__ import annotations

import copy
import hashlib
from collections.abc import Iterator, Mapping, Sequence

from sync.errors import LaybyError
from sync.records.store.interface import (
    NONE,
    START,
    Damage,
    Entry,
    ForeignView,
    Mark,
    Record,
    RecordDamaged,
    StoredView,
    Unshared,
    Views,
    Watch,
)
from sync.wire.results import Result
from tests.support.plain_files import PlainFiles

NO_CHECK = "0" * 8


class PlainViews:
    """Views in a dictionary; reading gives a copy, as from a disk."""

    register = None

    def __init__(self) -> None:
        self.content: dict[str, StoredView | None] = {}
        self.mark: Mark = START

    def names(self, folder: str) -> list[str]:
        """The names in a folder of views."""
        return sorted(name for name in self.content if name.rpartition("/")[0] == folder)

    def count(self) -> int:
        """How many there are."""
        return len(self.content)

    def read(self, name: str) -> StoredView | None:
        """A view; one that a test made unreadable (None) is set aside."""
        if name not in self.content:
            return None
        view = self.content[name]
        if view is None:
            del self.content[name]
            self.forget_complete()
            raise ForeignView(view=name)
        return copy.deepcopy(view)

    def write(self, name: str, view: StoredView) -> None:
        """Replace a view."""
        self.content[name] = copy.deepcopy(view)

    def replace(self, views: Mapping[str, StoredView]) -> None:
        """Replace some views."""
        for name, view in views.items():
            self.write(name, view)

    def complete(self) -> Mark:
        """How far all reach."""
        return self.mark

    def set_complete(self, mark: Mark) -> None:
        """Note how far all reach."""
        self.mark = mark

    def forget_complete(self) -> None:
        """Views may be missing."""
        self.mark = START


class PlainStore(Unshared):
    """The store. It stays in memory when it is closed, and opens again as it is.

    `broken` are the numbers of records that a test damaged; they are named as damage once a reader comes upon them.
    """

    stretch = 16

    def __init__(self) -> None:
        self.rows: dict[int, Record] = {}
        self.broken: set[int] = set()
        self.is_open = True
        self.files = PlainFiles()
        self._views = PlainViews()
        self._damage: list[Damage] = []
        self._aside: list[str] = []

    @property
    def views(self) -> Views:
        """The views."""
        return self._views

    @property
    def last(self) -> int:
        """The number of the latest record."""
        return max(self.rows, default=NONE)

    @property
    def refusal(self) -> LaybyError | None:
        """Memory takes everything."""
        return None

    @property
    def damage(self) -> list[Damage]:
        """What a reader came upon."""
        return list(self._damage)

    @property
    def aside(self) -> list[str]:
        """What was given up."""
        return list(self._aside)

    def append(self, entries: Sequence[Entry]) -> list[Record]:
        """Each third number is left out."""
        records = []
        for entry in entries:
            number = max(self.last, 0) + 1
            number += number % 3 == 0
            check = hashlib.sha256(b"%d " % number + entry.line).hexdigest()[:8]
            self.rows[number] = Record(number, *copy.deepcopy(entry), check)
            records.append(self.rows[number])
        return records

    def read(self, number: int) -> Record:
        """A record."""
        if number not in self.rows or number in self.broken:
            raise RecordDamaged(number=number)
        return self.rows[number]

    def check_of(self, number: int) -> str:
        """A record's check."""
        return self.rows[number].check if number in self.rows and number not in self.broken else NO_CHECK

    def records(self, after: int = NONE, watch: Watch | None = None) -> Iterator[Record]:
        """Those after a number, including those appended meanwhile."""
        number = after
        while (number := min((one for one in self.rows if one > number), default=NONE)) != NONE:
            if number in self.broken:
                self._come_upon(number)
                continue
            yield self.rows[number]
            if watch is not None:
                watch(number, self.last)

    def _come_upon(self, number: int) -> None:
        found = Damage(number, number + 1)
        if found not in self._damage:
            self._damage = sorted([*self._damage, found])

    def settle_end(self) -> None:
        """Nothing is ever unfinished here."""

    def note_end(self) -> None:
        """A start is quick anyway."""

    def check_room(self) -> None:
        """Memory has room."""

    def blank(self, numbers: Sequence[int], marks: Sequence[bytes] = ()) -> None:
        """Empty records; damaged ones that contain a mark too."""
        scars = [one for one in self.broken if any(mark in self.rows[one].line for mark in marks)]
        for number in [*numbers, *scars]:
            self._blank(number, "erased")

    def _blank(self, number: int, status: str) -> None:
        check = NO_CHECK if status == "lost" else self.rows[number].check
        result: Result = {"id": None, "status": status, "digest": check}  # type: ignore[typeddict-item]
        self.rows[number] = Record(number, 0, result, NO_CHECK.encode() * 8 + b" {}", check)
        self.broken.discard(number)

    def give_up(self) -> list[str]:
        """Put blanks in place of what is damaged."""
        names = [f"damaged-{stretch.first}" for stretch in self._damage]
        for stretch in self._damage:
            self._blank(stretch.first, "lost")
        self._damage.clear()
        self._aside += names
        return names

    def scratch_views(self) -> Views:
        """Empty views."""
        return PlainViews()

    def adopt(self, views: Views) -> None:
        """They replace the views in use."""
        assert isinstance(views, PlainViews)
        self._views = views

    def close(self, clean: bool) -> None:
        """It opens again as it is; damage has to be come upon again."""
        self.is_open = False
        self._damage.clear()
