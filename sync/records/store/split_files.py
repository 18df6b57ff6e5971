"""The files of several services whose photos are in a folder that all of them reach, and everything else elsewhere.

Nothing here keeps anything. The folder holds a mark that is noted with the other files, so that another folder, or the
empty place of a disk that isn't there, is never taken for it.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import AbstractContextManager

from sync.errors import Away, LaybyError
from sync.records.store.files import Files, Holds

MARK = "photos-folder.txt"
_FOLDER = "photos"
# What the note ends with until the folder has the mark, too.
_BEGUN = b" begun"


class PhotosAway(Away):
    """The folder of the photos isn't where it should be, or isn't this desk's; nothing is read or kept there."""

    code = "photos_away"


def with_photos(files: Files, photos: Files | None) -> Files:
    """Files, with the photos of a folder.

    The first service that names a folder marks it. From then on no service opens the records without it.

    Args:
        files: of all services; photos that were kept there before are still found [Files]
        photos: of the folder; None if none is named [Files or None]

    Returns:
        both as one [Files]

    Raises:
        PhotosAway: another folder is noted, or this one has another desk's mark.
    """
    noted = _content(files, MARK)
    if photos is None:
        if noted is None:
            return files
        raise PhotosAway(place="-")
    there = _content(photos, MARK)
    if noted is None and there is None:
        with files.claim(_FOLDER):
            noted = _content(files, MARK)
            if noted is None:
                noted = os.urandom(16).hex().encode("ascii") + _BEGUN
                files.write(MARK, noted)
    if noted is not None and noted.endswith(_BEGUN):
        if there not in (None, noted.removesuffix(_BEGUN)):
            raise PhotosAway(place=photos.place)
        there = noted = noted.removesuffix(_BEGUN)
        photos.write(MARK, noted)
        files.write(MARK, noted)
    if noted is None or noted != there:
        raise PhotosAway(place=photos.place)
    return SplitFiles(files, photos)


def _content(files: Files, name: str) -> bytes | None:
    try:
        return files.read(name)
    except FileNotFoundError:
        return None


class SplitFiles:
    """Photos in one place, everything else in another, which also has the claims and the photos of before.

    Args of the constructor:
        files: the others [Files]
        photos: the photos [Files]
    """

    def __init__(self, files: Files, photos: Files) -> None:
        self.others = files
        self.photos = photos

    @property
    def place(self) -> str:
        """Where the others are, for a person [text]."""
        return self.others.place

    def _there(self) -> Files:
        """The photos, as long as their folder is there.

        Raises:
            PhotosAway: it isn't.
        """
        if self.photos.size(MARK) is None:
            raise PhotosAway(place=self.photos.place)
        return self.photos

    def _holder(self, name: str) -> Files:
        """Where a content is, or would be if there were one."""
        if not _is_photo(name):
            return self.others
        photos = self._there()
        return self.others if photos.size(name) is None and self.others.size(name) is not None else photos

    def read(self, name: str) -> bytes:
        """A content; see `Files.read`."""
        return self._holder(name).read(name)

    def size(self, name: str) -> int | None:
        """How long a content is; None if there is none [bytes]."""
        return self._holder(name).size(name)

    def names(self, folder: str, beginning: str = "") -> list[str]:
        """The names in a folder and below it, in order; see `Files.names`."""
        others = self.others.names(folder, beginning)
        return sorted({*others, *self._there().names(folder, beginning)}) if _is_photo(f"{folder}/") else others

    def write(self, name: str, content: bytes) -> None:
        """Replace a content; see `Files.write`."""
        (self._there() if _is_photo(name) else self.others).write(name, content)

    def add(self, name: str, content: bytes, is_first: bool) -> None:
        """Add to the end of a content; see `Files.add`."""
        self._holder(name).add(name, content, is_first)

    def remove(self, name: str, is_durable: bool = True) -> None:
        """Remove a content wherever it is; see `Files.remove`."""
        if _is_photo(name):
            self._there().remove(name, is_durable)
        self.others.remove(name, is_durable)

    def set_aside(self, name: str) -> str:
        """Rename a content that can't be used [its new name]."""
        return self._holder(name).set_aside(name)

    def settle(self, name: str | None = None) -> None:
        """Whatever was written or removed so far stays so; see `Files.settle`."""
        if name is None:
            self.others.settle()
            self._there().settle()
        else:
            self._holder(name).settle(name)

    def check_room(self, count: int) -> None:
        """Check that there is room for this many bytes in both places; see `Files.check_room`."""
        self.others.check_room(count)
        self._there().check_room(count)

    def refused(self, error: OSError) -> LaybyError:
        """What a person is told when a content wasn't accepted: the database's own errors say it themselves."""
        return error if isinstance(error, LaybyError) else self.photos.refused(error)

    def clear(self, marks: Sequence[bytes]) -> None:
        """Remove what was set aside or left unfinished in both places; see `Files.clear`."""
        self.others.clear(marks)
        self._there().clear(marks)

    def claim(self, name: str) -> AbstractContextManager[Holds]:
        """Only one holder at a time, in any service; see `Files.claim`."""
        return self.others.claim(name)


def _is_photo(name: str) -> bool:
    return name.startswith(f"{_FOLDER}/")
