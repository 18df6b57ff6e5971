"""Notifications: what devices have to be told that stands in no operation, such as how a sheet got on, by number.

Nothing here knows what a notice says. A notice is written after what it tells of is safe on disk.
"""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

from tinydb import TinyDB

from sync.records.safe_files import SafeStorage

A_PAGE = 100

# One for the process, not for an object: several may be open over one folder.
_LOCK = threading.RLock()

Notice = dict[str, Any]


class Notifications:
    """The notifications of one folder, in pages of a hundred, so that adding one costs the same after ten years.

    One process at a time, held by the folder's lock; any number of threads.

    Args of the constructor:
        folder: the logbook's folder [path]
    """

    def __init__(self, folder: Path) -> None:
        self.folder = Path(folder) / "notices"

    def add(self, notice: Notice, devices: list[str] | None = None) -> int:
        """Write a notice.

        Args:
            notice: what is told: {kind, ...} [JSON object]
            devices: whom it is for; None where its visit says so [lower-case hex each]

        Returns:
            its number [count]
        """
        with _LOCK:
            number = self.last() + 1
            with self._page(number) as page:
                page.insert({"number": number, "notice": notice, "devices": devices})
        return number

    def last(self) -> int:
        """The number of the latest notice, 0 where there is none [count]."""
        with _LOCK:
            names = [path.stem for path in self.folder.glob("*.json")]
            if not names:
                return 0
            with TinyDB(self.folder / f"{max(names)}.json", storage=SafeStorage) as page:
                return max(int(entry["number"]) for entry in page.all())

    def since(self, after: int, most: int) -> list[tuple[int, Notice, list[str] | None]]:
        """The notifications above a number.

        Args:
            after: the number [count]
            most: at most so many [count]

        Returns:
            (number, notice, devices) each, by number [list]
        """
        found: list[tuple[int, Notice, list[str] | None]] = []
        number = after + 1
        with _LOCK:
            last = self.last()
            while number <= last and len(found) < most + A_PAGE:
                with self._page(number) as page:
                    entries = sorted(page.all(), key=lambda entry: int(entry["number"]))
                found += [(int(one["number"]), one["notice"], one["devices"]) for one in entries]
                number = (number - 1) // A_PAGE * A_PAGE + A_PAGE + 1
        return [one for one in found if one[0] > after][:most]

    def forget(self, visits: list[str]) -> None:
        """Empty the notifications of some visits; their numbers stay taken, so that no cursor is led astray."""
        with _LOCK:
            for path in sorted(self.folder.glob("*.json")):
                with TinyDB(path, storage=SafeStorage) as page:
                    mine = [one.doc_id for one in page.all() if one["notice"].get("visit") in visits]
                    if mine:
                        page.update({"notice": {"kind": "erased", "visits": []}, "devices": []}, doc_ids=mine)

    def holds(self, notice: Notice) -> bool:
        """Whether a notice stands here, word for word."""
        with _LOCK:
            for path in self.folder.glob("*.json"):
                with TinyDB(path, storage=SafeStorage) as page:
                    if any(one["notice"] == notice for one in page.all()):
                        return True
        return False

    def _page(self, number: int) -> TinyDB:
        return TinyDB(self.folder / f"{(number - 1) // A_PAGE:09d}.json", storage=SafeStorage)
