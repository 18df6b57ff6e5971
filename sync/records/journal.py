"""The journal: the one file that is the truth, appended to, made durable, and only then answered for.

Nothing here knows what an operation means or which view shows it.
"""

from __future__ import annotations

import json
import logging
import os
import re
import shutil
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TypedDict, cast

from sync.errors import DiskFull, JournalFailed, LaybyError
from sync.records.safe_files import sync_folder
from sync.wire.results import Result

NAME = "journal.log"
FLOOR_BYTES = 64 * 1024 * 1024
_HEAD = re.compile(rb"(\d{1,9}) ([0-9a-f]{8}) ")
_HEAD_MOST = 19
_JSON = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"))
_RESYNC = re.compile(rb"\n(?=\d{1,9} [0-9a-f]{8} )")

# Called with how far something is, and how far it goes [bytes].
Watch = Callable[[int, int], None]

log = logging.getLogger("layby.journal")


class JournalDamaged(LaybyError):
    """A record that was once written does not read back as it was."""

    code = "journal_damaged"


class Place(TypedDict):
    """Where a record stands in the journal [bytes]."""

    offset: int
    length: int


@dataclass(frozen=True, slots=True)
class Record:
    """One record: where it stands [bytes], when its line came in [ms], what was answered, and the op line itself."""

    offset: int
    length: int
    received_ms: int
    result: Result
    line: bytes

    @property
    def place(self) -> Place:
        """Where it stands [Place]."""
        return {"offset": self.offset, "length": self.length}


def framed(received_ms: int, result: Result, line: bytes) -> bytes:
    """One record as it stands in the file.

    `<payload length> <crc32> <payload>` and a line feed, the payload being
    `<received ms> <result length> <result JSON> <op line>`: lengths let a reader skip, the checksum tells a torn one.

    Args:
        received_ms: when the line came in [milliseconds since 1970]
        result: what was answered [Result]
        line: the op line, without its line feed [bytes]

    Returns:
        the record [bytes]
    """
    answer = _JSON.encode(result).encode("utf-8")
    payload = b"%d %d %b %b" % (received_ms, len(answer), answer, line)
    return b"%d %08x %b\n" % (len(payload), zlib.crc32(payload), payload)


def blank(length: int) -> bytes:
    """A record that holds nothing, of a length that a record can have, to stand where one was erased.

    Args:
        length: of the whole record, its line feed included [bytes]

    Returns:
        the record, its status "erased" [bytes]
    """
    empty = framed(0, {"id": None, "status": "erased", "digest": ""}, b"0" * 64 + b" {}")
    line = b"0" * 64 + b" {}" + b" " * (length - len(empty))
    while len(record := framed(0, {"id": None, "status": "erased", "digest": ""}, line)) > length:
        # The length stands in the head as well and may have taken one more digit.
        line = line[:-1]
    return record


def unframed(piece: bytes, offset: int) -> Record | None:
    """The record at the start of `piece`, or None where there is no whole and sound one."""
    head = _HEAD.match(piece)
    if head is None:
        return None
    start, size = head.end(), int(head[1])
    payload = piece[start : start + size]
    if len(piece) <= start + size or piece[start + size] != 0x0A or zlib.crc32(payload) != int(head[2], 16):
        return None
    received, answer_size, rest = payload.split(b" ", 2)
    cut = int(answer_size)
    # The checksum fits, so these are the bytes that `framed` made of a result.
    result = cast(Result, json.loads(rest[:cut]))
    return Record(offset, start + size + 1, int(received), result, rest[cut + 1 :])


class Journal:
    """An open journal. One writer, held by the folder's lock; `size` is the end of what is sound and durable.

    A process that was killed in the middle of its fsync leaves records that read well and are not durable yet; so the
    whole file is made durable before anything in it is answered for.

    Raises on opening:
        JournalFailed: the disk could not make durable what stands there.
    """

    def __init__(self, folder: Path, floor_bytes: int = FLOOR_BYTES) -> None:
        self.path = folder / NAME
        self.floor_bytes = floor_bytes
        self.damage: list[tuple[int, int]] = []
        self._failed = False
        self._file = os.open(self.path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600)
        self.size = os.lseek(self._file, 0, os.SEEK_END)
        try:
            self._make_durable()
            sync_folder(folder)
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Give the file back."""
        os.close(self._file)

    def append(self, records: list[bytes]) -> list[int]:
        """Write records and make them durable with one fsync; all of them or none.

        Args:
            records: as `framed` makes them [list of bytes]

        Returns:
            the offset of each [bytes]

        Raises:
            DiskFull: there is less room than the floor, or the write did not fit; nothing is left behind.
            JournalFailed: the disk refused in a way that leaves its state unknown; also on every later call.
        """
        if self._failed:
            raise JournalFailed(file=str(self.path))
        block = b"".join(records)
        free = shutil.disk_usage(self.path.parent).free
        if free < self.floor_bytes + len(block):
            raise DiskFull(free_mb=free // 1_000_000)
        try:
            self._write(block)
        except OSError as error:
            self._undo(error)
            raise DiskFull(free_mb=free // 1_000_000) from error
        try:
            self._make_durable()
        except JournalFailed:
            self._cut()
            raise
        offsets = []
        for record in records:
            offsets.append(self.size)
            self.size += len(record)
        return offsets

    def _write(self, block: bytes) -> None:
        os.lseek(self._file, self.size, os.SEEK_SET)
        rest = memoryview(block)
        while rest:
            rest = rest[os.write(self._file, rest) :]

    def _undo(self, cause: OSError) -> None:
        try:
            os.ftruncate(self._file, self.size)
        except OSError as error:
            self._failed = True
            raise JournalFailed(file=str(self.path)) from error
        log.warning("the journal did not take a write: %s", cause)

    def _cut(self) -> None:
        """Take out what is not durable: a later fsync may succeed without it, and the next start would trust that."""
        try:
            os.ftruncate(self._file, self.size)
        except OSError as error:
            log.error("what could not be made durable could not be taken out of the journal again: %s", error)

    def _make_durable(self) -> None:
        try:
            os.fsync(self._file)
        except OSError as error:
            # After a failed fsync the system may have dropped what it could not write: nobody can tell what is there.
            self._failed = True
            raise JournalFailed(file=str(self.path)) from error

    def read(self, offset: int, length: int) -> Record:
        """One record by its place.

        Args:
            offset: where it starts [bytes]
            length: how long it is [bytes]

        Returns:
            the record [Record]

        Raises:
            JournalDamaged: what stands there is no sound record.
        """
        os.lseek(self._file, offset, os.SEEK_SET)
        record = unframed(self._take(length), offset)
        if record is None or record.length != length:
            raise JournalDamaged(file=str(self.path), offset=offset)
        return record

    def stretch(self, offset: int, length: int) -> bytes:
        """The bytes from an offset on, sound or not, such as those of a stretch in `damage` [bytes]."""
        os.lseek(self._file, offset, os.SEEK_SET)
        return self._take(length)

    def check_of(self, offset: int) -> tuple[int, str]:
        """The payload's length and check sum as the record at an offset claims them, to know it again.

        Args:
            offset: where a record starts [bytes]

        Returns:
            (length, check sum), (0, "00000000") where none starts [bytes, 8 hex digits]
        """
        os.lseek(self._file, offset, os.SEEK_SET)
        head = _HEAD.match(self._take(_HEAD_MOST)) if offset < self.size else None
        return (0, "0" * 8) if head is None else (int(head[1]), head[2].decode("ascii"))

    def _take(self, count: int) -> bytes:
        pieces = []
        while count > 0:
            piece = os.read(self._file, min(count, 1 << 20))
            if not piece:
                break
            pieces.append(piece)
            count -= len(piece)
        return b"".join(pieces)

    def records(self, start: int = 0, watch: Watch | None = None) -> Iterator[Record]:
        """Every sound record from an offset on, in order; stretches that are none are noted in `damage`.

        Args:
            start: where a record starts [bytes]
            watch: called behind each record with how far it is and how far it goes, in bytes [function]

        Returns:
            the records, read as they are asked for [iterator of Record]
        """
        offset = start
        self.damage = [(at, length) for at, length in self.damage if at < start]
        while offset < self.size:
            record = self._record_at(offset)
            if record is not None:
                yield record
                offset += record.length
                if watch is not None:
                    watch(offset, self.size)
                continue
            sound = self._next_sound(offset)
            self.damage.append((offset, sound - offset))
            offset = sound

    def _record_at(self, offset: int) -> Record | None:
        os.lseek(self._file, offset, os.SEEK_SET)
        first = self._take(4096)
        head = _HEAD.match(first)
        if head is None:
            return None
        whole = head.end() + int(head[1]) + 1
        if whole > self.size - offset:
            return None
        return unframed(first + self._take(whole - len(first)), offset)

    def _next_sound(self, offset: int) -> int:
        """Where the next sound record starts behind a damaged stretch; the end of the file where there is none."""
        at, tail = offset, b""
        while at < self.size:
            os.lseek(self._file, at, os.SEEK_SET)
            block = self._take(1 << 20)
            window = tail + block
            for match in _RESYNC.finditer(window):
                candidate = at - len(tail) + match.end()
                if candidate > offset and self._record_at(candidate) is not None:
                    return candidate
            at += len(block)
            tail = window[-_HEAD_MOST - 1 :]
        return self.size

    def set_torn_tail_aside(self, now_ms: int) -> Path | None:
        """Move an unfinished last write out of the file, into a side file beside it.

        Call after `records` was read to its end. Damage followed by sound records is no torn tail and stays.

        Args:
            now_ms: names the side file [milliseconds since 1970]

        Returns:
            the side file, or None where the journal ends soundly [path]
        """
        if not self.damage or sum(self.damage[-1]) != self.size:
            return None
        offset, length = self.damage.pop()
        aside = self.path.with_name(f"journal.torn-{now_ms}")
        os.lseek(self._file, offset, os.SEEK_SET)
        with open(aside, "xb", opener=lambda path, flags: os.open(path, flags, 0o600)) as file:
            file.write(self._take(length))
            file.flush()
            os.fsync(file.fileno())
        sync_folder(self.path.parent)
        os.ftruncate(self._file, offset)
        os.fsync(self._file)
        self.size = offset
        log.warning("an unfinished write of %d bytes was set aside in %s", length, aside.name)
        return aside
