"""The photos of a desk: received in pieces, resumable after any break, counted only once complete and verified.

Nothing here knows a visit or an operation: a photo is named by its SHA-256, and filing never waits for one.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Iterator
from contextlib import contextmanager

from sync.errors import LaybyError, NotOwn
from sync.records.image_headers import NotAPhoto, head_of
from sync.records.locks import PHOTOS, claimed
from sync.records.store.files import Files
from sync.wire.op_line import is_digest

PHOTO_BYTES = 2_000_000
PIXELS_MOST = 40_000_000
# A part begins with the length of the whole, so that a phone that forgot it can be told.
_HEAD_LENGTH = 12

log = logging.getLogger("layby.photos")


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
    """The photos of one desk: `photos/<first two digits>/<sha256>`; unfinished ones beside them as `<sha256>.part`.

    Args of the constructor:
        files: where they are [Files]
    """

    def __init__(self, files: Files) -> None:
        self.files = files

    def offset(self, sha: str) -> tuple[int, int | None]:
        """How much of a photo is stored.

        Args:
            sha: the SHA-256 of its bytes [64 hex digits]

        Returns:
            (bytes stored, bytes of the whole); equal when it is complete, (0, None) when nothing is stored [bytes]

        Raises:
            NotADigest: the name isn't a SHA-256.
        """
        whole = file_of(sha)
        size = self.files.size(whole)
        if size is None:
            with claimed(PHOTOS, self.files.claim):
                offset, length = self._offset_of_part(whole, sha)
            if offset != length:
                return offset, length
            size = offset
        self._make_sure(whole)
        return size, size

    def _offset_of_part(self, whole: str, sha: str) -> tuple[int, int | None]:
        """The same as long as nothing is finished; the claim is held."""
        size = self.files.size(whole)
        if size is not None:
            return size, size
        part = self._part_of(whole)
        length = _length_in(part)
        if length is None:
            return 0, None
        end = len(part) - _HEAD_LENGTH
        if end < length:
            return end, length
        # Killed between the last piece and the check: checked now.
        try:
            self._finish(whole, sha, part[_HEAD_LENGTH:])
        except (PhotoAltered, NotAPhoto, TooManyPixels):
            return 0, None
        return length, length

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
            DiskFull, DatabaseAway: there is no room, or it wasn't accepted; nothing of this piece is kept.
        """
        whole = file_of(sha)
        if not 1 <= length <= PHOTO_BYTES or offset + len(chunk) > length:
            raise PhotoTooLarge(length=max(length, offset + len(chunk)), limit=min(length, PHOTO_BYTES))
        with claimed(PHOTOS, self.files.claim):
            if self.files.size(_mark(sha)) is not None:
                return offset + len(chunk)
            end, whole_length = self.offset(sha)
            if whole_length not in (None, length):
                end = self._forget(whole, end)
            if end != offset:
                raise WrongOffset(sha=sha, offset=end, length=length, given=offset)
            if end == whole_length:
                self.files.remove(_part(whole), is_durable=False)
                return end
            # Twice, because the finished photo is written beside its part.
            self.files.check_room(2 * PHOTO_BYTES + len(chunk))
            self._add(whole, end, length, chunk)
            if end + len(chunk) == length:
                self._finish(whole, sha, self.files.read(_part(whole))[_HEAD_LENGTH:])
        return end + len(chunk)

    def bytes_of(self, sha: str) -> bytes | None:
        """A complete photo [bytes]; None if it is incomplete, not here, or a link, which the log then names.

        Raises:
            NotADigest: the name isn't a SHA-256.
        """
        try:
            return self.files.read(file_of(sha))
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
        whole = file_of(sha)
        with claimed(PHOTOS, self.files.claim):
            self.files.write(_mark(sha), b"")
            for left in (whole, _part(whole)):
                self.files.remove(left, is_durable=False)

    def _part_of(self, whole: str) -> bytes:
        try:
            return self.files.read(_part(whole))
        except FileNotFoundError:
            return b""

    def _add(self, whole: str, end: int, length: int, chunk: bytes) -> None:
        """A new part begins with the length of the whole."""
        is_first = end == 0 and _length_in(self._part_of(whole)) is None
        head = b"%0*d\n" % (_HEAD_LENGTH - 1, length) if is_first else b""
        with self._told():
            self.files.add(_part(whole), head + chunk, is_first)

    def _forget(self, whole: str, end: int) -> int:
        """Two lengths are claimed for one name: a part is dropped and its sender starts again; a complete photo stays.
        """
        if self.files.size(whole) is not None:
            return end
        self.files.remove(_part(whole), is_durable=False)
        return 0

    def _finish(self, whole: str, sha: str, content: bytes) -> None:
        try:
            check_photo(content, sha)
        except (PhotoAltered, NotAPhoto, TooManyPixels):
            self.files.remove(_part(whole), is_durable=False)
            raise
        with self._told():
            self.files.write(whole, content)
        self._make_sure(whole)
        self.files.remove(_part(whole), is_durable=False)

    def _make_sure(self, whole: str) -> None:
        """Make it durable that a complete photo is where it is, before answering."""
        with self._told():
            self.files.settle(whole)

    @contextmanager
    def _told(self) -> Iterator[None]:
        """If something isn't accepted, the sender must hear of it, and starts again later."""
        try:
            yield
        except OSError as error:
            raise self.files.refused(error) from error


def file_of(sha: str) -> str:
    """Where a complete photo is or would be [name of a file].

    Raises:
        NotADigest: the name isn't a SHA-256.
    """
    if not is_digest(sha):
        raise NotADigest(name=sha[:80])
    return f"photos/{sha[:2]}/{sha}"


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


def _part(whole: str) -> str:
    return f"{whole}.part"


def _mark(sha: str) -> str:
    """The mark of an erased photo; its name is a hash of the photo's hash, which nobody can reverse."""
    return f"photos/erased/{hashlib.sha256(sha.encode('ascii')).hexdigest()}"


def _length_in(part: bytes) -> int | None:
    """The length of the whole at the start of a part; None if there is no part, or one torn in its head."""
    head = part[:_HEAD_LENGTH]
    return int(head) if len(head) == _HEAD_LENGTH and head[:-1].isdigit() and head.endswith(b"\n") else None
