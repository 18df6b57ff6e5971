"""Folders of an earlier format, converted to this one when they are first opened.

Format 1 kept sheet states, notices and erasures in files beside the journal, and views that counted by bytes. The
content of the files is appended to the journal as notes; views are made again. The old journal stays until the new one
is proved: the same to its last byte, followed by notes that say what the files said.
"""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Callable
from itertools import islice
from pathlib import Path
from typing import Any

from tinydb import TinyDB

from sync.disk import calls
from sync.disk.safe_files import (
    BLOCK,
    Unreadable,
    check_room,
    remove,
    remove_tree,
    replacement,
    set_aside,
)
from sync.errors import LaybyError
from sync.kernel.json_tree import Json, JsonObject
from sync.records.embedded import framing, journal, proof
from sync.records.embedded.folder_files import FolderFiles
from sync.records.embedded.journal import Journal
from sync.records.embedded.view_files import CHECKPOINT, SafeStorage
from sync.records.store.files import read_or_set_aside
from sync.records.store.interface import Entry
from sync.records.store.note import entry_of, id_from, note_in

_BESIDE = "sheetbook"
_ERASURES = "erasures.json"
# What is made again, or told again, from the journal.
_GOING = ".sheetbook.old"
_DERIVED = ("pages", "notices", _GOING)

# The rows of a file of format 1, by table.
_Tables = dict[str, list[dict[str, Any]]]

log = logging.getLogger("layby.store")


class NotProved(LaybyError):
    """A journal that was written in this format doesn't read back as it was; the old one stays."""

    code = "not_proved"


def to_this_format(folder: Path) -> None:
    """Convert a folder of format 1 to this one; a new folder, or one of this format, stays as it is.

    If it is killed at any moment, the next start begins again and ends with the same result.

    Args:
        folder: the logbook's folder [path]

    Raises:
        NotProved: the new journal doesn't read back; the old one stays.
        DiskFull, OSError: the disk didn't take it; the old folder stays.
    """
    path = folder / journal.NAME
    if not path.exists() or (folder / proof.NAME).exists():
        return
    entries = [*_sheets_of(folder), *_letters_of(folder), *_erasures_of(folder)]
    if entries:
        _append(path, [framing.framed(entry) for entry in entries])
        log.info("%d notes of an earlier format were taken over into the journal", len(entries))
    remove(folder / CHECKPOINT)
    # All at once: a start that found only part of it would convert that part a second time.
    beside = folder / _BESIDE
    if beside.exists():
        calls.replace(beside, folder / _GOING)
        calls.sync_folder(folder)
    for name in _DERIVED:
        remove_tree(folder / name)
    remove(folder / _ERASURES)


def _append(path: Path, notes: list[bytes]) -> None:
    """Let a journal that ends with the notes replace the old one, unless it already has."""
    old = Journal(path)
    try:
        for _ in old.records():
            pass
        old.set_torn_tail_aside(time.time_ns() // 1_000_000)
        content = b"".join(notes)
        if old.take(max(0, old.size - len(content)), len(content)) == content:
            return
        check_room(path.parent, old.size + len(content))
        with replacement(path) as file:
            for at in range(0, old.size, BLOCK):
                file.write(old.take(at, min(BLOCK, old.size - at)))
            file.write(content)
            file.flush()
            _prove(Path(path.with_name(f".{path.name}.new")), old, notes)
    finally:
        old.close()


def _prove(path: Path, old: Journal, notes: list[bytes]) -> None:
    """Check that a new journal is the old one followed by the notes.

    Raises:
        NotProved: it isn't.
    """
    new = Journal(path)
    try:
        same = all(
            old.take(at, min(BLOCK, old.size - at)) == new.take(at, min(BLOCK, old.size - at))
            for at in range(0, old.size, BLOCK)
        )
        read = [(record.received_ms, note_in(record)) for record in islice(new.records(old.size), len(notes) + 1)]
        meant = [(record[0].received_ms, note_in(record[0])) for note in notes if (record := framing.unframed(note, 0))]
        if not same or read != meant or len(meant) != len(notes):
            raise NotProved(file=str(path))
    finally:
        new.close()


def _taken_over(path: Path, entries_of: Callable[[_Tables], list[Entry]]) -> list[Entry]:
    """A file of format 1 as notes; one that can't be read is set aside, named and skipped."""
    try:
        with TinyDB(path, storage=SafeStorage) as file:
            return entries_of({table: [dict(row) for row in file.table(table).all()] for table in file.tables()})
    except (Unreadable, KeyError, IndexError, ValueError, TypeError, AttributeError, IsADirectoryError):
        log.error("%s cannot be read; set aside as %s", path.name, _moved_up(path).name)
        return []


def _moved_up(path: Path) -> Path:
    """Set a file aside in the logbook's folder, because its own folder will be removed [its new path]."""
    aside = set_aside(path)
    target = path.parent.parent / aside.name
    calls.replace(aside, target)
    calls.sync_folder(target.parent)
    return target


def _sheets_of(folder: Path) -> list[Entry]:
    paths = sorted((folder / _BESIDE).glob("????-??-??.json"))
    entries = [entry for path in paths for entry in _taken_over(path, _sheets_in)]
    return sorted(entries, key=lambda entry: entry.received_ms)


def _sheets_in(tables: _Tables) -> list[Entry]:
    entries = []
    for row in tables.get("sheets", []):
        visit, revision, at_ms = str(row["visit"]), str(row["revision"]), int(row["states"][-1]["at"])
        body: JsonObject = {"record": row}
        entries.append(entry_of("sheet.record", visit, body, at_ms, id_from(at_ms, visit, revision)))
    return entries


def _letters_of(folder: Path) -> list[Entry]:
    path = folder / _BESIDE / "underway.json"
    return _taken_over(path, _letters_in) if path.exists() else []


def _letters_in(tables: _Tables) -> list[Entry]:
    times = [int(row["at"]) for row in tables.get("handed", [])]
    return [entry_of("letter.handed", None, {}, at_ms, id_from(at_ms, "handed")) for at_ms in times]


def _erasures_of(folder: Path) -> list[Entry]:
    # If it can't be read, what was erased can no longer be kept out; a person learns about the file.
    return read_or_set_aside(FolderFiles(folder), _ERASURES, _erasures_in) or []


def _erasures_in(content: bytes) -> list[Entry]:
    memory = json.loads(content)
    erasures: list[Json] = list(memory["erasures"])
    hashes: list[Json] = list(memory["hashes"])
    at_ms = max((int(one["at"]) for one in memory["erasures"]), default=0)
    body: JsonObject = {"erasures": erasures, "hashes": hashes}
    # Twice, like every erasure: see `erasure`.
    return [entry_of("erasure", None, body, at_ms, id_from(at_ms, "erased", copy)) for copy in ("first", "second")]
