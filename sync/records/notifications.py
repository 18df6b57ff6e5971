"""Notifications: what devices have to be told that stands in no operation, such as how a sheet got on, by number.

Nothing here knows what a notice says. A notice is written after what it tells of is safe on disk.
"""

from __future__ import annotations

import threading
from pathlib import Path
from typing import TypedDict, cast

from tinydb import TinyDB

from sync.records.safe_files import SafeStorage
from sync.wire.responses import ErasedChange, SheetChange

A_FILE = 100

# One for the process, not for an object: several may be open over one folder.
_LOCK = threading.RLock()


# What a device has to be told is kept as the answer that tells it.
Notice = SheetChange | ErasedChange


class _Notification(TypedDict):

    number: int
    notice: Notice
    devices: list[str] | None


class Notifications:
    """The notifications of one folder, a hundred to a file, so that adding one costs the same after ten years.

    One process at a time, held by the folder's lock; any number of threads.

    Args of the constructor:
        folder: the logbook's folder [path]
    """

    def __init__(self, folder: Path) -> None:
        self.folder = Path(folder) / "notices"

    def add(self, notice: Notice, devices: list[str] | None = None) -> int:
        """Write a notice.

        Args:
            notice: what is told [Notice]
            devices: whom it is for; None where its visit says so [lower-case hex each]

        Returns:
            its number [count]
        """
        with _LOCK:
            number = self.last() + 1
            with self._file(number) as file:
                file.insert({"number": number, "notice": notice, "devices": devices})
        return number

    def last(self) -> int:
        """The number of the latest notice, 0 where there is none [count]."""
        with _LOCK:
            names = [path.stem for path in self.folder.glob("*.json")]
            if not names:
                return 0
            with TinyDB(self.folder / f"{max(names)}.json", storage=SafeStorage) as file:
                return max(one["number"] for one in _notifications(file))

    def since(self, after: int, most: int) -> list[tuple[int, Notice, list[str] | None]]:
        """The notifications above a number.

        Args:
            after: the number [count]
            most: at most so many [count]

        Returns:
            (number, notice, devices) each, by number [list]
        """
        rows: list[_Notification] = []
        number = after + 1
        with _LOCK:
            last = self.last()
            while number <= last and len(rows) < most + A_FILE:
                with self._file(number) as file:
                    rows += sorted(_notifications(file), key=lambda one: one["number"])
                number = (number - 1) // A_FILE * A_FILE + A_FILE + 1
        return [(one["number"], one["notice"], one["devices"]) for one in rows if one["number"] > after][:most]

    def forget(self, visits: list[str]) -> None:
        """Empty the notifications of some visits; their numbers stay taken, so that no cursor is led astray."""
        with _LOCK:
            for path in sorted(self.folder.glob("*.json")):
                with TinyDB(path, storage=SafeStorage) as file:
                    mine = [one.doc_id for one in file.all() if one["notice"].get("visit") in visits]
                    if mine:
                        file.update({"notice": {"kind": "erased", "visits": []}, "devices": []}, doc_ids=mine)

    def holds(self, notice: Notice) -> bool:
        """Whether a notice stands here, word for word."""
        with _LOCK:
            for path in self.folder.glob("*.json"):
                with TinyDB(path, storage=SafeStorage) as file:
                    if any(one["notice"] == notice for one in file.all()):
                        return True
        return False

    def _file(self, number: int) -> TinyDB:
        return TinyDB(self.folder / f"{(number - 1) // A_FILE:09d}.json", storage=SafeStorage)


def _notifications(file: TinyDB) -> list[_Notification]:
    # Nothing but `add` and `forget` writes these files.
    return cast(list[_Notification], file.all())
