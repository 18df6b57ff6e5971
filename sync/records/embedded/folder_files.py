"""The files of a folder, behind the interface of a store's files.

Nothing here knows what is in a file; the journal and the views have calls of their own.
"""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path

from sync.disk import calls
from sync.disk.own_files import content_of
from sync.disk.safe_files import check_room, disk_full, make_folder, remove, set_aside, sync_folders, write_whole
from sync.errors import LaybyError
from sync.records.embedded.journal import FLOOR_BYTES
from sync.records.store.files import Holds

# Copies that were set aside for a person to look at.
_ASIDE = ("journal.torn-*", "journal.damaged-*", "**/*.unreadable-*")
# Where a kill may have left an unfinished file.
_UNFINISHED = ("pages", "sheets", "spool", "outgoing", "books")
_UNFINISHED_NAME = re.compile(r"\..*\.new")
# The folders whose entries this process knows to be durable; a former process may have been killed before that.
_DURABLE: set[Path] = set()


class FolderFiles:
    """The files of one folder; nothing is read or made before it is needed.

    Whoever writes holds the folder's lock, so only one process does.

    Args of the constructor:
        folder: the logbook's folder [path]
        floor_bytes: room the disk must keep free [bytes]
    """

    def __init__(self, folder: Path, floor_bytes: int = FLOOR_BYTES) -> None:
        self.folder = Path(folder)
        self.floor_bytes = floor_bytes

    @property
    def place(self) -> str:
        """Where they are, for a person [text]."""
        return str(self.folder)

    def read(self, name: str) -> bytes:
        """A content; no link is followed. See `Files.read`."""
        return content_of(self.folder, self.folder / name)

    def size(self, name: str) -> int | None:
        """How long a content is; None if there is none [bytes]."""
        try:
            return (self.folder / name).stat().st_size
        except FileNotFoundError:
            return None

    def names(self, folder: str, beginning: str = "") -> list[str]:
        """The names in a folder and below it, in order; see `Files.names`."""
        top = self.folder / folder
        found = [Path(place) / name for place, folders, files in os.walk(top) for name in (*files, *folders)]
        # An unfinished file is none; a link to a folder is one, which nobody follows.
        names = sorted(path.relative_to(top).as_posix() for path in found
                       if (path.is_symlink() or not path.is_dir()) and not _UNFINISHED_NAME.fullmatch(path.name))
        return [f"{folder}/{name}" for name in names if name.startswith(beginning)]

    def write(self, name: str, content: bytes) -> None:
        """Replace a content; see `Files.write`."""
        path = self.folder / name
        make_folder(path.parent)
        write_whole(path, content)

    def add(self, name: str, content: bytes, is_first: bool) -> None:
        """Add to the end of a content; see `Files.add`."""
        path = self.folder / name
        make_folder(path.parent)
        handle = calls.create(path, fresh=is_first)
        before = os.fstat(handle).st_size
        try:
            calls.write(handle, before, content)
            calls.sync(handle)
        except OSError:
            calls.cut(handle, before)
            raise
        finally:
            os.close(handle)
        if is_first:
            calls.sync_folder(path.parent)

    def remove(self, name: str, is_durable: bool = True) -> None:
        """Remove a content; see `Files.remove`."""
        path = self.folder / name
        for one in (path.with_name(f".{path.name}.new"), path):
            if is_durable:
                remove(one)
            else:
                calls.remove(one)

    def set_aside(self, name: str) -> str:
        """Rename a content that can't be used [its new name]."""
        return set_aside(self.folder / name).relative_to(self.folder).as_posix()

    def settle(self, name: str | None = None) -> None:
        """Whatever was written or removed so far stays so; see `Files.settle`."""
        if name is None:
            sync_folders(self.folder)
            return
        ways = list((self.folder / name).relative_to(self.folder).parents)[:-1]
        for folder in (self.folder / way for way in reversed(ways)):
            if folder not in _DURABLE:
                calls.sync_folder(folder)
                _DURABLE.add(folder)

    def check_room(self, count: int) -> None:
        """Check that there is room for this many bytes above the floor; see `Files.check_room`."""
        make_folder(self.folder)
        check_room(self.folder, self.floor_bytes + count)

    def refused(self, error: OSError) -> LaybyError:
        """The disk took no more."""
        return error if isinstance(error, LaybyError) else disk_full(self.folder)

    def clear(self, marks: Sequence[bytes]) -> None:
        """Remove what was set aside or left unfinished; see `Files.clear`."""
        for name in _UNFINISHED:
            for path in (self.folder / name).rglob(".*.new"):
                calls.remove(path)
        for pattern in _ASIDE:
            for path in self.folder.glob(pattern):
                content = path.read_bytes()
                if any(mark in content for mark in marks):
                    calls.remove(path)

    def claim(self, name: str) -> AbstractContextManager[Holds]:
        """Nobody else is there; see `Files.claim`."""
        return nullcontext(lambda: None)
