"""The photos of a folder: received in pieces, resumable after any break, counted only once complete and verified.

Nothing here knows a visit or an operation: a photo is named by its SHA-256, and filing never waits for one.
"""

from __future__ import annotations

import hashlib
import logging
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sync.disk import calls
from sync.disk.own_files import NotOwn, content_of
from sync.disk.safe_files import check_room, disk_full, make_folder, write_whole
from sync.errors import LaybyError
from sync.records.embedded.journal import FLOOR_BYTES
from sync.records.image_headers import NotAPhoto, head_of
from sync.records.locks import FILES, Ranked
from sync.wire.op_line import is_digest

PHOTO_BYTES = 2_000_000
PIXELS_MOST = 40_000_000
# A part begins with the length of the whole, so that a phone that forgot it can be told.
_HEAD_LENGTH = 12

log = logging.getLogger("layby.photos")

# One for the process, not per object: several may be open over one folder.
_LOCK = Ranked(FILES)
# The folders whose entries this process knows to be durable; a former process may have been killed before that.
_DURABLE: set[Path] = set()


class WrongOffset(LaybyError):
    """A piece that doesn't begin where the stored part ends; `offset` and `length` say what is stored."""

    code = "photo_wrong_offset"


class PhotoAltered(LaybyError):
    """All bytes came but don't have the hash they are named by; none of them is kept."""

    code = "photo_altered"


class PhotoTooLarge(LaybyError):
    """A photo with more bytes than are accepted, or a piece that goes beyond the announced length."""

    code = "photo_too_large"


class TooManyPixels(LaybyError):
    """A picture too large to be opened safely."""

    code = "too_many_pixels"


class NotADigest(LaybyError):
    """A photo's name that isn't a SHA-256."""

    code = "not_a_photo_name"


class PhotoStore:
    """The photos of one folder: `photos/<first two digits>/<sha256>`; unfinished ones beside them as `<sha256>.part`.

    One process at a time, held by the folder's lock; any number of threads.

    Args of the constructor:
        folder: the logbook's folder [path]
        floor_bytes: room the disk must keep free [bytes]
    """

    def __init__(self, folder: Path, floor_bytes: int = FLOOR_BYTES) -> None:
        self.folder = Path(folder) / "photos"
        self.floor_bytes = floor_bytes

    def path(self, sha: str) -> Path:
        """Where a complete photo is or would be [path].

        Raises:
            NotADigest: the name isn't a SHA-256.
        """
        if not is_digest(sha):
            raise NotADigest(name=sha[:80])
        return self.folder / sha[:2] / sha

    def offset(self, sha: str) -> tuple[int, int | None]:
        """How much of a photo is stored.

        Args:
            sha: the SHA-256 of its bytes [64 hex digits]

        Returns:
            (bytes stored, bytes of the whole); equal when it is complete, (0, None) when nothing is stored [bytes]

        Raises:
            NotADigest: the name isn't a SHA-256.
        """
        whole = self.path(sha)
        with _LOCK:
            if not whole.exists():
                length = _length_in(_part(whole))
                if length is None:
                    return 0, None
                end = _part(whole).stat().st_size - _HEAD_LENGTH
                if end < length:
                    return end, length
                # Killed between the last piece and the check: checked now.
                try:
                    self._finish(whole, sha)
                except (PhotoAltered, NotAPhoto, TooManyPixels):
                    return 0, None
            self._make_sure(whole)
            size = whole.stat().st_size
            return size, size

    def append(self, sha: str, offset: int, length: int, chunk: bytes) -> int:
        """Take one piece; durable before this returns. With the last piece the photo is verified and counts.

        A piece of a photo that is already complete, or was erased, is ignored.

        Args:
            sha: the SHA-256 of the whole [64 hex digits]
            offset: where the piece begins [bytes]
            length: how long the whole is [bytes]
            chunk: the piece [bytes]

        Returns:
            how much is stored now [bytes]

        Raises:
            WrongOffset: the piece doesn't begin where the stored part ends.
            PhotoTooLarge: the whole is over 2,000,000 bytes, or the piece goes beyond it.
            PhotoAltered, NotAPhoto, TooManyPixels: the whole isn't what its name says, or may not be accepted; nothing
                of it is kept.
            DiskFull: there is less room than the floor, or the disk didn't take it; nothing of this piece is kept.
        """
        whole = self.path(sha)
        if not 1 <= length <= PHOTO_BYTES or offset + len(chunk) > length:
            raise PhotoTooLarge(length=max(length, offset + len(chunk)), limit=min(length, PHOTO_BYTES))
        with _LOCK:
            if self._mark(sha).exists():
                return offset + len(chunk)
            end, whole_length = self.offset(sha)
            if whole_length not in (None, length):
                end = self._forget(whole, end)
            if end != offset:
                raise WrongOffset(sha=sha, offset=end, length=length, given=offset)
            if end == whole_length:
                calls.remove(_part(whole))
                return end
            self._check_room(len(chunk))
            with _told_of_a_full_disk(self.folder):
                _add(_part(whole), length, chunk)
            if end + len(chunk) == length:
                self._finish(whole, sha)
        return end + len(chunk)

    def bytes_of(self, sha: str) -> bytes | None:
        """A complete photo [bytes]; None if it is incomplete, not here, or a link, which the log then names.

        Raises:
            NotADigest: the name isn't a SHA-256.
        """
        try:
            return content_of(self.folder, self.path(sha))
        except FileNotFoundError:
            return None
        except NotOwn as error:
            log.warning("a photo is a link, which is not followed: %s", error)
            return None

    def erase(self, sha: str) -> None:
        """Remove a photo, complete or not, for good: pieces of it that come again get an answer and aren't stored.

        Raises:
            NotADigest: the name isn't a SHA-256.
        """
        whole, mark = self.path(sha), self._mark(sha)
        with _LOCK:
            make_folder(mark.parent)
            write_whole(mark, b"")
            for left in (whole, _part(whole), whole.with_name(f".{whole.name}.new")):
                calls.remove(left)

    def _mark(self, sha: str) -> Path:
        """The mark of an erased photo; its name is a hash of the photo's hash, which nobody can reverse."""
        return self.folder / "erased" / hashlib.sha256(sha.encode("ascii")).hexdigest()

    def _check_room(self, count: int) -> None:
        make_folder(self.folder)
        # Twice, because the finished photo is written beside its part.
        check_room(self.folder, self.floor_bytes + 2 * PHOTO_BYTES + count)

    def _forget(self, whole: Path, end: int) -> int:
        """Two lengths are claimed for one name: a part is dropped and its sender starts again; a complete photo stays.
        """
        if whole.exists():
            return end
        calls.remove(_part(whole))
        return 0

    def _finish(self, whole: Path, sha: str) -> None:
        content = _part(whole).read_bytes()[_HEAD_LENGTH:]
        try:
            check_photo(content, sha)
        except (PhotoAltered, NotAPhoto, TooManyPixels):
            calls.remove(_part(whole))
            raise
        with _told_of_a_full_disk(self.folder):
            write_whole(whole, content)
        self._make_sure(whole)
        calls.remove(_part(whole))

    def _make_sure(self, whole: Path) -> None:
        """Make it durable that a complete photo is where it is, before answering; once per folder and process."""
        with _told_of_a_full_disk(self.folder):
            for folder in (self.folder, whole.parent):
                if folder not in _DURABLE:
                    calls.sync_folder(folder)
                    _DURABLE.add(folder)


@contextmanager
def _told_of_a_full_disk(folder: Path) -> Iterator[None]:
    """If the disk doesn't take a write, the sender must hear of it, and starts again later."""
    try:
        yield
    except OSError as error:
        raise disk_full(folder) from error


def check_photo(content: bytes, sha: str) -> None:
    """Check that bytes are the photo they are named by, and one that may be accepted.

    Args:
        content: the photo [bytes]
        sha: its name [64 hex digits]

    Raises:
        PhotoAltered: the hash differs.
        NotAPhoto: not JPEG, PNG or WebP by its bytes.
        TooManyPixels: more than 40 million of them.
    """
    actual = hashlib.sha256(content).hexdigest()
    if actual != sha:
        raise PhotoAltered(claimed=sha, found=actual)
    head = head_of(content)
    if head.width * head.height > PIXELS_MOST:
        raise TooManyPixels(width=head.width, height=head.height, limit=PIXELS_MOST // 1_000_000)


def _part(whole: Path) -> Path:
    return whole.with_name(f"{whole.name}.part")


def _length_in(part: Path) -> int | None:
    """The length of the whole at the start of a part; None if there is no part, or one torn in its head."""
    try:
        with part.open("rb") as file:
            head = file.read(_HEAD_LENGTH)
    except FileNotFoundError:
        return None
    return int(head) if len(head) == _HEAD_LENGTH and head[:-1].isdigit() and head.endswith(b"\n") else None


def _add(part: Path, length: int, chunk: bytes) -> None:
    """Append to a part and make it durable, all or nothing; a new one begins with the length of the whole."""
    is_new = _length_in(part) is None
    make_folder(part.parent)
    handle = calls.create(part, fresh=is_new)
    before = os.fstat(handle).st_size
    head = b"%0*d\n" % (_HEAD_LENGTH - 1, length) if is_new else b""
    try:
        calls.write(handle, before, head + chunk)
        calls.sync(handle)
    except OSError:
        calls.cut(handle, before)
        raise
    finally:
        os.close(handle)
    if is_new:
        calls.sync_folder(part.parent)
