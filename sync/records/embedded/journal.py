"""The journal's file: appended to, made durable, and read by the places at which its records begin.

Nothing here knows what a record means, a view, or whether the last end was a clean one; `proof` and `store` do.
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
    """An open journal. A record's number is the byte at which it begins.

    `size` is the end of what was appended and proved; `refusal` says why nothing more is taken.

    Args of the constructor:
        path: the file; made when missing [path]
        floor_bytes: room the disk must keep free [bytes]
    """

    def __init__(self, path: Path, floor_bytes: int = FLOOR_BYTES) -> None:
        self.path = path
        self.floor_bytes = floor_bytes
        self.refusal: LaybyError | None = None
        self.damage: list[Damage] = []
        self.last = NONE
        # Held while the file is written, exchanged for another, or read where the system has no reading by places.
        self._lock = threading.RLock()
        # Files that were exchanged for another stay open: a thread may still be reading by their handles.
        self._exchanged: list[int] = []
        self._file = calls.create(path)
        self.size = os.fstat(self._file).st_size

    def close(self) -> None:
        """Give the file back."""
        for handle in (self._file, *self._exchanged):
            os.close(handle)

    # Writing --------------------------------------------------------------------------------------------------------

    def append(self, entries: Sequence[Entry]) -> list[Record]:
        """Write records and make them durable with one fsync; all of them or none. As `Store.append` says."""
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
            # The system may have dropped what it could not write and call the next sync good without it: from here on
            # nobody can tell what is there, whatever reads back.
            self.refusal = JournalFailed(file=str(self.path))
            log.error("the journal could not be made durable: %s", error)
            self._cut()
            raise self.refusal from error

    def _cut(self) -> None:
        """Take out what was not taken whole, so that no later sync can make half of it stay."""
        try:
            calls.cut(self._file, self.size)
        except OSError as error:
            self.refusal = JournalFailed(file=str(self.path))
            log.error("what is unfinished could not be taken out of the journal again: %s", error)

    def set_torn_tail_aside(self, now_ms: int) -> Path | None:
        """Move an unfinished last write out of the file, into a side file beside it.

        Call after `records` was read to its end. Damage followed by sound records is no torn tail and stays.

        Args:
            now_ms: names the side file [milliseconds since 1970]

        Returns:
            the side file, or None where the journal ends soundly [path]

        Raises:
            OSError: the disk did not take it; nothing was changed.
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
        """Copy a stretch of the file into one of its own, durable."""
        handle = calls.create(aside, fresh=True)
        try:
            self._copy(handle, first, end, origin=first)
            calls.sync(handle)
        finally:
            os.close(handle)
        calls.sync_folder(aside.parent)

    def check_room(self) -> None:
        """See that there is room for the whole file once more.

        Raises:
            DiskFull: there is not.
        """
        check_room(self.path.parent, self.size + BLOCK)

    def rewrite(self, pieces: Sequence[tuple[int, bytes]] = ()) -> None:
        """Write the whole file anew, other bytes of the same length in some places, and put it in the old one's place.

        Others may append and read meanwhile; only the last stretch is copied while they wait.

        Args:
            pieces: where other bytes are to stand, and which [(offset, bytes) each]

        Raises:
            DiskFull, OSError: the disk did not take it; the old file stands.
            JournalFailed: nobody knows which of the two files the disk has by that name; nothing more is taken.
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
        """Let a new file take the old one's name, durably: what is appended to it would be lost with it otherwise."""
        calls.replace(beside, self.path)
        self._exchanged.append(self._file)
        self._file = handle
        try:
            calls.sync_folder(self.path.parent)
        except OSError as error:
            self.refusal = JournalFailed(file=str(self.path))
            log.error("that the journal was written anew could not be made durable: %s", error)
            raise self.refusal from error

    def _copy(self, handle: int, start: int, end: int, origin: int = 0) -> int:
        """Copy a stretch into another file, which begins with the byte at `origin`; where the stretch ends [bytes]."""
        for at in range(start, end, BLOCK):
            calls.write(handle, at - origin, self.take(at, min(BLOCK, end - at)))
        return end

    # Reading --------------------------------------------------------------------------------------------------------

    def take(self, offset: int, count: int) -> bytes:
        """The bytes from an offset on, as many as there are [bytes]."""
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
        """One record; as `Store.read` says. Where none begins is no proof of damage: a scan alone can tell."""
        found = self._record_at(number) if 0 <= number < self.size else None
        if found is None:
            raise RecordDamaged(file=str(self.path), number=number)
        return found[0]

    def check_of(self, number: int) -> str | None:
        """The check of the record that begins at an offset, None where none does [8 hex digits]."""
        return framing.check_in(self.take(number, framing.BLANK_HEAD_MOST)) if 0 <= number < self.size else None

    def records(self, start: int = 0, watch: Watch | None = None) -> Iterator[Record]:
        """Every sound record from an offset on, in order; what is none is noted in `damage`."""
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
        """Where the record behind one begins, by its head [bytes]."""
        return number + (framing.whole_length(self.take(number, framing.HEAD_MOST)) or 1)

    def _record_at(self, offset: int) -> tuple[Record, int] | None:
        first = self.take(offset, _FIRST)
        whole = framing.whole_length(first)
        if whole is None or whole > self.size - offset:
            return None
        return framing.unframed(first + self.take(offset + len(first), whole - len(first)), offset)

    def _passed(self, offset: int) -> int:
        """Where the next sound record begins behind what is none; it is noted, unless it is a filling."""
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
        """Where the next sound record begins behind a damaged stretch; the end of the file where there is none."""
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
