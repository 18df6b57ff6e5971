"""Moving a desk to another store: all records in their order, and all that lies beside them, compared afterwards.

Nothing is removed or changed where they came from. The new store gives numbers and checks of its own, and views are
made again from the records.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TypedDict

from sync.errors import LaybyError
from sync.records import erasure
from sync.records.locks import ALONE
from sync.records.logbook import Logbook
from sync.records.store.files import Files
from sync.records.store.interface import NONE, Entry, Record, Store

# What lies beside the records; the rest of a folder is made again, or belongs to the service that has it.
FOLDERS = ("photos", "sheets", "outgoing", "spool")
SINGLE = ("devices.json", "people.json", "passphrase.json", "settings.json", "logo", "logger_columns.json")
# A letter goes from here once it is sent, so these are taken at the very end.
_PASSING = ("spool",)
# So many records are appended at a time.
_AT_A_TIME = 500
# What an erased or lost record holds: nothing.
_EMPTY = b"0" * 64 + b" {}"
_BLANKS = ("erased", "lost")


class NotEmpty(LaybyError):
    """There are records already where these are to go."""

    code = "place_not_empty"


class NotWhole(LaybyError):
    """Records don't read back; `count` tells how many stretches."""

    code = "records_not_whole"


class NotTheSame(LaybyError):
    """What arrived isn't what left; `what` names it."""

    code = "moved_otherwise"


class Moved(TypedDict):
    """What is in both places now: counts of records and files, their size [bytes], SHA-256 of all records."""

    records: int
    files: int
    bytes: int
    sha256: str


@dataclass
class _Tally:
    """How many entries, and their running hash."""

    count: int = 0
    running: hashlib._Hash = field(default_factory=hashlib.sha256)

    def add(self, entry: Entry) -> None:
        """One more."""
        self.count += 1
        result = json.dumps(entry.result, sort_keys=True, separators=(",", ":"))
        self.running.update(f"{entry.received_ms} {len(result)} {len(entry.line)} {result}".encode("ascii"))
        self.running.update(entry.line)


def move(logbook: Logbook, store: Store) -> Moved:
    """Copy a logbook into an empty store, while it goes on filing until the last few entries.

    Args:
        logbook: the open logbook [Logbook]
        store: where it goes, open and empty; what is in it after an error is no logbook [Store]

    Returns:
        what was copied and compared [Moved]

    Raises:
        NotEmpty, NotWhole: nothing was copied.
        NotTheSame: something reads back otherwise.
        NotOwn: a link lies in the place of a file. OSError, DiskFull, DatabaseAway: the store took no more.
    """
    # A sheet's file comes before its note, so what the notes say is always there.
    with logbook.claim(ALONE):
        erasure.finish(logbook)
        logbook.look_through()
        if logbook.store.damage:
            raise NotWhole(count=len(logbook.store.damage))
        if store.last != NONE or any(True for _ in _names(store.files)):
            raise NotEmpty(place=store.files.place)
        taken = _Tally()
        last = _copied(logbook.store.records(), store, taken, NONE)
        before = [name for name in _names(logbook.files) if not name.startswith(_PASSING) and "/" in name]
        sums = _files_copied(before, logbook.files, store.files)
        with logbook.writing():
            _copied(logbook.store.records(last), store, taken, last)
            rest = [name for name in _names(logbook.files) if name not in sums]
            sums |= _files_copied(rest, logbook.files, store.files)
    _compare(store, taken, sums)
    sizes = [size for _, size in sums.values()]
    return {"records": taken.count, "files": len(sums), "bytes": sum(sizes), "sha256": taken.running.hexdigest()}


def _names(files: Files) -> Iterator[str]:
    for folder in FOLDERS:
        yield from files.names(folder)
    yield from (name for name in SINGLE if files.size(name) is not None)


def _copied(records: Iterable[Record], store: Store, taken: _Tally, last: int) -> int:
    """Append records in their order; returns the number of the last, `last` if there were none."""
    batch = list[Entry]()
    for record in records:
        last = record.number
        batch.append(_entry_of(record))
        taken.add(batch[-1])
        if len(batch) == _AT_A_TIME:
            store.append(batch)
            batch.clear()
    store.append(batch)
    return last


def _entry_of(record: Record) -> Entry:
    """A record as it is appended elsewhere: of a blank only what it stands for."""
    is_blank = record.result["status"] in _BLANKS
    return Entry(record.received_ms, record.result, _EMPTY if is_blank else record.line)


def _files_copied(names: list[str], source: Files, target: Files) -> dict[str, tuple[str, int]]:
    """Copy files; returns the SHA-256 and size of each by its name."""
    sums = {}
    for name in names:
        content = source.read(name)
        target.write(name, content)
        sums[name] = (hashlib.sha256(content).hexdigest(), len(content))
    return sums


def _compare(store: Store, taken: _Tally, sums: dict[str, tuple[str, int]]) -> None:
    found = _Tally()
    for record in store.records():
        found.add(_entry_of(record))
    if (found.count, found.running.digest()) != (taken.count, taken.running.digest()):
        raise NotTheSame(what=store.files.place)
    for name in sorted({*sums, *_names(store.files)}):
        content = store.files.read(name) if store.files.size(name) is not None else None
        if content is None or name not in sums or hashlib.sha256(content).hexdigest() != sums[name][0]:
            raise NotTheSame(what=name)
