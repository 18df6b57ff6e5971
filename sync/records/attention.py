"""Which records a person may have to see to: entries that were refused, and entries that disagreed with another.

Only their numbers, in memory: each start reads every record once and finds them again. Nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import cast

from sync.records.store.interface import Record
from sync.records.store.note import NOTED, Kind, note_in

STATES = ("conflict", "rejected")
ASIDE: Kind = "entry.aside"
_MARK = ASIDE.encode()
# This many records are read at a time.
_AT_A_TIME = 200


class Attention:
    """The numbers of those records, as far as they have been read, without those that a person set aside."""

    def __init__(self) -> None:
        self._open: set[int] = set()
        self._aside: set[int] = set()
        # Whether every record was read since this process began.
        self.is_whole = False

    def read(self, records: Iterable[Record], is_enough: Callable[[], bool]) -> bool:
        """Take in all records.

        Args:
            records: all there are [Record each]
            is_enough: asked now and then whether to stop [function to bool]

        Returns:
            whether all were read [bool]
        """
        for count, record in enumerate(records):
            self.see(record)
            if count % _AT_A_TIME == 0 and is_enough():
                return False
        self.is_whole = True
        return True

    def see(self, record: Record) -> None:
        """Take in a record; seeing it twice changes nothing."""
        status = record.result["status"]
        if status in STATES:
            self._open.add(record.number)
        elif status == NOTED and _MARK in record.line:
            note = note_in(record)
            if note is not None and note["kind"] == ASIDE:
                # Only the desk writes this note.
                self._aside.add(cast(int, note["body"]["number"]))

    def newest(self) -> list[int]:
        """Their numbers, the newest record first [counts]."""
        return sorted(self._open - self._aside, reverse=True)
