"""The journal's file: appended to, made durable, and read at the places where its records begin.

Nothing here knows what a record means, a view, or whether the last end was clean; `proof` and `store` do.
"""

from __future__ import annotations

import bisect
import logging
import os
import threading
from collections.abc import Iterator, Sequence
from pathlib import Path

from sync.disk import calls
from sync.disk.safe_files import BLOCK, check_room, disk_full
from sync.errors import JournalFailed, LaybyError
from sync.records.embedded import framing
from sync.records.store.interface import NONE, Damage, Entry, Record, RecordDamaged, Watch

NAME = "journal.log"
FLOOR_BYTES = 64 * 1024 * 1024
_FIRST = 4096

log = logging.getLogger("layby.journal")


class Journal:
    """An open journal. A record's number is the byte where it begins.

    `size` is the end of what was appended and proved; `refusal` says why nothing more is accepted.

    Args of the constructor:
        path: the file; created if missing [path]
        floor_bytes: room the disk must keep free [bytes]
    """

    def __init__(self, path: Path, floor_bytes: int = FLOOR_BYTES) -> None:
        self.path = path
        self.floor_bytes = floor_bytes
        self.refusal: LaybyError | None = None
        self.damage: list[Damage] = []
        self.last = NONE
        # Held while the file is written, swapped for another, or read where the system can't read at an offset.
        self._lock = threading.RLock()
        # Files that were swapped for another stay open: a thread may still be reading through their handles.
        self._exchanged: list[int] = []
        self._file = calls.create(path)
        self.size = os.fstat(self._file).st_size

    def close(self) -> None:
        """Release the file."""
        for handle in (self._file, *self._exchanged):
            os.close(handle)

    # Writing --------------------------------------------------------------------------------------------------------

    def append(self, entries: Sequence[Entry]) -> list[Record]:
        """Write records and make them durable with one fsync; all of them or none. See `Store.append`."""
        if self.refusal is not None:
            raise self.refusal
        blocks = [framing.framed(entry) for entry in entries]
        content = b"".join(blocks)
        check_room(self.path.parent, self.floor_bytes + len(content))
        with self._lock:
            self._write(content)
            records = []
            for block, entry in zip(blocks, entries, strict=True):
                records.append(Record(self.size, *entry, framing.claimed_check(block)))
                self.last = self.size
                self.size += len(block)
        return records

    def _write(self, content: bytes) -> None:
        try:
            calls.write(self._file, self.size, content)
        except OSError as error:
            log.warning("the journal did not take a write: %s", error)
            self._cut()
            raise disk_full(self.path.parent) from error
        try:
            calls.sync(self._file)
        except OSError as error:
            # The system may have dropped what it could not write, and report the next sync as good without it. From
            # here on nobody can tell what is there, even if it reads back.
            self.refusal = JournalFailed(file=str(self.path))
            log.error("the journal could not be made durable: %s", error)
            self._cut()
            raise self.refusal from error

    def _cut(self) -> None:
        """Take out what wasn't written completely, so that no later sync can make half of it permanent."""
        try:
            calls.cut(self._file, self.size)
        except OSError as error:
            self.refusal = JournalFailed(file=str(self.path))
            log.error("the unfinished write could not be removed from the journal: %s", error)

    def set_torn_tail_aside(self, now_ms: int) -> Path | None:
        """Move an unfinished last write out of the file, into a side file beside it.

        Call after `records` was read to its end. Damage followed by intact records isn't a torn tail and stays.

        Args:
            now_ms: names the side file [milliseconds since 1970]

        Returns:
            the side file, or None if the journal ends intact [path]

        Raises:
            OSError: the disk didn't take it; nothing was changed.
        """
        if not self.damage or self.damage[-1].end != self.size:
            return None
        first, end = self.damage[-1]
        aside = self.path.with_name(f"journal.torn-{now_ms}")
        self.copy_aside(aside, first, end)
        calls.cut(self._file, first)
        calls.sync(self._file)
        self.damage.pop()
        self.size = first
        log.warning("an unfinished write of %d bytes was set aside in %s", end - first, aside.name)
        return aside

    def copy_aside(self, aside: Path, first: int, end: int) -> None:
        """Copy a stretch of the file into a file of its own, durably."""
        handle = calls.create(aside, fresh=True)
        try:
            self._copy(handle, first, end, origin=first)
            calls.sync(handle)
        finally:
            os.close(handle)
        calls.sync_folder(aside.parent)

    def check_room(self) -> None:
        """Check that there is room for the whole file once more.

        Raises:
            DiskFull: there isn't.
        """
        check_room(self.path.parent, self.size + BLOCK)

    def rewrite(self, pieces: Sequence[tuple[int, bytes]] = ()) -> None:
        """Write the whole file again, with other bytes of the same length in places, and let it replace the old one.

        Others may append and read meanwhile; only the last stretch is copied while they wait.

        Args:
            pieces: where to put other bytes, and which [(offset, bytes) each]

        Raises:
            DiskFull, OSError: the disk didn't take it; the old file stays.
            JournalFailed: nobody knows which of the two files the disk has under that name; nothing more is accepted.
        """
        beside = self.path.with_name(f".{self.path.name}.new")
        self.check_room()
        handle = calls.create(beside, fresh=True)
        try:
            end = self._copy(handle, 0, self.size)
            for offset, content in pieces:
                calls.write(handle, offset, content)
            calls.sync(handle)
            with self._lock:
                self._copy(handle, end, self.size)
                calls.sync(handle)
                self._exchange(beside, handle)
        except BaseException:
            if self._file != handle:
                os.close(handle)
                calls.remove(beside)
            raise

    def _exchange(self, beside: Path, handle: int) -> None:
        """Let a new file take over the old one's name, durably; otherwise what is appended to it could be lost."""
        calls.replace(beside, self.path)
        self._exchanged.append(self._file)
        self._file = handle
        try:
            calls.sync_folder(self.path.parent)
        except OSError as error:
            self.refusal = JournalFailed(file=str(self.path))
            log.error("the rewritten journal could not be made durable: %s", error)
            raise self.refusal from error

    def _copy(self, handle: int, start: int, end: int, origin: int = 0) -> int:
        """Copy a stretch into another file that begins with the byte at `origin`; returns where it ends [bytes]."""
        for at in range(start, end, BLOCK):
            calls.write(handle, at - origin, self.take(at, min(BLOCK, end - at)))
        return end

    # Reading --------------------------------------------------------------------------------------------------------

    def take(self, offset: int, count: int) -> bytes:
        """The bytes from an offset on, as many as exist [bytes]."""
        pieces = []
        while count > 0:
            piece = self._read(offset, min(count, BLOCK))
            if not piece:
                break
            pieces.append(piece)
            offset += len(piece)
            count -= len(piece)
        return b"".join(pieces)

    if hasattr(os, "pread"):

        def _read(self, offset: int, count: int) -> bytes:
            return os.pread(self._file, count, offset)

    else:

        def _read(self, offset: int, count: int) -> bytes:
            with self._lock:
                os.lseek(self._file, offset, os.SEEK_SET)
                return os.read(self._file, count)

    def read(self, number: int) -> Record:
        """One record; see `Store.read`. If none begins there, that doesn't prove damage: only a scan can tell."""
        found = self._record_at(number) if 0 <= number < self.size else None
        if found is None:
            raise RecordDamaged(file=str(self.path), number=number)
        return found[0]

    def check_of(self, number: int) -> str | None:
        """The check of the record that begins at an offset; None if none does [8 hex digits]."""
        return framing.check_in(self.take(number, framing.BLANK_HEAD_MOST)) if 0 <= number < self.size else None

    def records(self, start: int = 0, watch: Watch | None = None) -> Iterator[Record]:
        """Every intact record from an offset on, in order; anything else is noted in `damage`."""
        offset = start
        while offset < self.size:
            found = self._record_at(offset)
            if found is None:
                offset = self._passed(offset)
                continue
            record, length = found
            self.last = max(self.last, offset)
            offset += length
            yield record
            if watch is not None:
                watch(offset, self.size)

    def next_of(self, number: int) -> int:
        """Where the next record begins, according to this one's head [bytes]."""
        return number + (framing.whole_length(self.take(number, framing.HEAD_MOST)) or 1)

    def _record_at(self, offset: int) -> tuple[Record, int] | None:
        first = self.take(offset, _FIRST)
        whole = framing.whole_length(first)
        if whole is None or whole > self.size - offset:
            return None
        return framing.unframed(first + self.take(offset + len(first), whole - len(first)), offset)

    def _passed(self, offset: int) -> int:
        """Where the next intact record begins after something that isn't one; that is noted, unless it is filler."""
        sound = self._next_sound(offset)
        if not framing.is_filling(self.take(offset, sound - offset)):
            self._note(Damage(offset, sound))
        return sound

    def _note(self, stretch: Damage) -> None:
        with self._lock:
            others = [one for one in self.damage if one.end <= stretch.first or stretch.end <= one.first]
            overlapping = [one for one in self.damage if one not in others]
            first = min([stretch.first, *(one.first for one in overlapping)])
            joined = Damage(first, max([stretch.end, *(one.end for one in overlapping)]))
            if [joined] == overlapping:
                return
            bisect.insort(others, joined)
            self.damage[:] = others
        log.error("the journal is damaged at byte %d, %d bytes long; what follows is sound", first, joined.end - first)

    def _next_sound(self, offset: int) -> int:
        """Where the next intact record begins after a damaged stretch; the end of the file if there is none."""
        at, tail = offset, b""
        while at < self.size:
            block = self.take(at, min(BLOCK, self.size - at))
            window = tail + block
            for match in framing.RESYNC.finditer(window):
                candidate = at - len(tail) + match.end()
                if candidate > offset and self._record_at(candidate) is not None:
                    return candidate
            at += len(block)
            tail = window[-framing.HEAD_MOST - 1 :]
        return self.size
