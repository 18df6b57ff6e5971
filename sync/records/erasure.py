"""What was erased from a folder: the plain record of it, the memory that keeps it away, and the carrying out itself.

Nothing here decides what is to be erased; `erasure` does. No name and no reading stands in the record: ids that say
nothing to anybody but the devices that made them, and hashes of the ids of entries.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
from pathlib import Path
from typing import BinaryIO, TypedDict, cast

from sync.errors import DiskFull, LaybyError
from sync.kernel.json_tree import Json
from sync.records import journal
from sync.records.notifications import Notifications
from sync.records.photos import PhotoStore
from sync.records.safe_files import SafeStorage, Unreadable, sync_folder, sync_folders, write_whole
from sync.records.sheet_records import SheetRecords
from sync.records.view_erasure import Erased, strike
from sync.records.views import documents_of, read_view
from sync.wire.responses import ErasedChange

RECORD = "erasures.json"
PLAN = "erasure-under-way.json"
# Copies that were set aside for a person to look at; they go when they hold something erased.
_SIDE_FILES = ("journal.torn-*", "**/*.unreadable-*")
# Where a kill may have left a file that was never finished; nobody writes there while something is erased.
_UNFINISHED = ("pages", "sheetbook", "notices", "sheets", "spool", "outgoing", "books")
_BOOK = re.compile(r"\.?(?:day|ledger)-(\d{4}-\d\d-\d\d)(?:-(\d{4}-\d\d-\d\d))?\D.*")
_BLOCK = 1 << 20


class Erasure(TypedDict):
    """What the record says of one erasure.

    Cursors grow, `at` is in ms since 1970; visits, customers and vehicles are ids, devices those that took part,
    entries and photos counts.
    """

    cursor: int
    at: int
    visits: list[str]
    customers: list[str]
    vehicles: list[str]
    devices: list[str]
    entries: int
    photos: int


class Traces(TypedDict):
    """Where there are traces of what is to be erased.

    `records` are [offset, length] in the journal, `pages` the names of views, `photos` SHA-256, `days` as YYYY-MM-DD,
    `marks` the ids by which copies are known.
    """

    records: list[list[int]]
    pages: list[str]
    photos: list[str]
    days: list[str]
    marks: list[str]


class _Plan(Traces):
    erasure: Erasure
    hashes: list[str]


class _Memory(TypedDict):
    erasures: list[Erasure]
    hashes: list[str]


class ErasureUnfinished(LaybyError):
    """The disk did not let an erasure come to its end; it goes on at the next start."""

    code = "erasure_unfinished"


def remembered(name: str) -> str:
    """An id or digest as it is remembered when what it named is erased: its SHA-256 [64 hex digits]."""
    return hashlib.sha256(name.encode("utf-8")).hexdigest()


class Erasures:
    """The memory of one folder: true where anything was ever erased there.

    `erasures` are the records, in their order.

    Args of the constructor:
        folder: the logbook's folder [path]

    Raises:
        Unreadable: the record is there and cannot be read; without it erased entries would come back.
    """

    def __init__(self, folder: Path) -> None:
        self._path = Path(folder) / RECORD
        self.erasures: list[Erasure] = []
        self._hashes: set[str] = set()
        try:
            memory = json.loads(self._path.read_bytes())
            self.erasures, self._hashes = list(memory["erasures"]), set(memory["hashes"])
        except FileNotFoundError:
            return
        except (ValueError, KeyError, TypeError) as error:
            raise Unreadable(file=str(self._path)) from error

    def __bool__(self) -> bool:
        return bool(self._hashes)

    def holds(self, name: Json) -> bool:
        """Whether an id of an entry, visit, vehicle or customer, or the digest of a line, was erased."""
        return isinstance(name, str) and remembered(name) in self._hashes

    def add(self, erasure: Erasure, hashes: list[str]) -> None:
        """Write an erasure down; one whose cursor stands there already is not added twice."""
        if all(erasure["cursor"] != one["cursor"] for one in self.erasures):
            self.erasures.append(erasure)
            self._hashes |= set(hashes)
            memory: _Memory = {"erasures": self.erasures, "hashes": sorted(self._hashes)}
            write_whole(self._path, json.dumps(memory).encode("ascii"))


# Carrying out --------------------------------------------------------------------------------------------------------


def begin(folder: Path, erasure: Erasure, hashes: list[str], traces: Traces) -> None:
    """Write down what is to be erased. From here on it will be, whatever happens; `finish` does it.

    Args:
        folder: the logbook's folder [path]
        erasure: what the record will say [Erasure]
        hashes: what is to be remembered, as `remembered` makes it [texts]
        traces: where it stands [Traces]

    Raises:
        DiskFull: there is no room for a second journal beside the first.
    """
    size, free = (folder / journal.NAME).stat().st_size, shutil.disk_usage(folder).free
    if free < size + _BLOCK:
        raise DiskFull(free_mb=free // 1_000_000)
    plan: _Plan = {"erasure": erasure, "hashes": hashes, **traces}
    write_whole(folder / PLAN, json.dumps(plan).encode("ascii"))


def finish(folder: Path) -> bool:
    """Carry out the erasure that is written down, from wherever it was broken off; nobody may have the records open.

    Every step may be done twice. The memory comes first, so that nothing erased is ever taken in again.

    Args:
        folder: the logbook's folder [path]

    Returns:
        whether there was one [bool]

    Raises:
        OSError: the disk did not take it; the erasure is still written down.
    """
    try:
        # Nothing but `begin` writes this file, and whole.
        plan = cast(_Plan, json.loads((folder / PLAN).read_bytes()))
    except FileNotFoundError:
        return False
    visits = plan["erasure"]["visits"]
    Erasures(folder).add(plan["erasure"], plan["hashes"])
    _blank(folder, plan["records"])
    _strike_views(folder, plan)
    SheetRecords(folder).forget(visits)
    _tell(Notifications(folder), plan["erasure"])
    for photo in plan["photos"]:
        PhotoStore(folder).erase(photo)
    _clear_books(folder, plan["days"])
    _clear_side_files(folder, [mark.encode("ascii") for mark in plan["marks"]])
    # What was removed must stay so once nobody knows any more that it was to be removed.
    sync_folders(folder)
    (folder / PLAN).unlink()
    sync_folder(folder)
    return True


def _strike_views(folder: Path, plan: _Plan) -> None:
    """Take what is erased off the views that it stands on; a view that cannot be mended goes and is made again."""
    cards = [*plan["erasure"]["customers"], *plan["erasure"]["vehicles"]]
    erased = Erased(frozenset(at for at, _ in plan["records"]), frozenset(plan["erasure"]["visits"]), frozenset(cards))
    for name in plan["pages"]:
        storage = SafeStorage(folder / "pages" / f"{name}.json")
        try:
            documents = storage.read()
            size = (folder / journal.NAME).stat().st_size
            view = None if documents is None else read_view(name, documents, size)
            is_mended = view is None or strike(view, erased)
        except Unreadable:
            view, is_mended = None, False
        if not is_mended:
            # First the claim that all views are there, then the view: a kill between them costs time and nothing else.
            (folder / "checkpoint.json").unlink(missing_ok=True)
            sync_folder(folder)
            storage.path.unlink(missing_ok=True)
        elif view is not None:
            storage.write(documents_of(view))


def _tell(notifications: Notifications, erasure: Erasure) -> None:
    """Let the devices that took part be told, once, and nobody any more of the sheets."""
    notifications.forget(erasure["visits"])
    notice: ErasedChange = {
        "kind": "erased", "visits": erasure["visits"], "customers": erasure["customers"],
        "vehicles": erasure["vehicles"],
    }
    if not notifications.holds(notice):
        notifications.add(notice, erasure["devices"])


def _blank(folder: Path, places: list[list[int]]) -> None:
    """A new journal in which blanks of the same length stand for some records, put in the place of the old one.

    All other records keep their offsets, and so whatever counts by offset stays true.
    """
    path = folder / journal.NAME
    beside = path.with_name(f".{path.name}.new")
    opener = lambda name, flags: os.open(name, flags, 0o600)  # noqa: E731 - two words would name nothing more
    with path.open("rb") as old, open(beside, "wb", opener=opener) as new:
        for offset, length in sorted(places):
            _copy(old, new, offset - old.tell())
            # What is no record stays none: a damaged line is filled up, so that the next record is found behind it.
            sound = journal.unframed(old.read(length), offset) is not None
            new.write(journal.blank(length) if sound else b" " * length)
        _copy(old, new, None)
        new.flush()
        os.fsync(new.fileno())
    os.replace(beside, path)
    sync_folder(folder)


def _copy(old: BinaryIO, new: BinaryIO, count: int | None) -> None:
    left = count
    while block := old.read(_BLOCK if left is None else min(_BLOCK, left)):
        new.write(block)
        left = None if left is None else left - len(block)


def _clear_books(folder: Path, days: list[str]) -> None:
    """Let the books go that cover a day of an erased visit; they are printed and can be made again without it."""
    for path in (folder / "books").glob("*"):
        span = _BOOK.fullmatch(path.name)
        if span and any(span[1] <= day <= (span[2] or span[1]) for day in days):
            path.unlink()


def _clear_side_files(folder: Path, marks: list[bytes]) -> None:
    for name in _UNFINISHED:
        for path in (folder / name).rglob(".*.new"):
            path.unlink()
    for pattern in _SIDE_FILES:
        for path in folder.glob(pattern):
            content = path.read_bytes()
            if any(mark in content for mark in marks):
                path.unlink()
