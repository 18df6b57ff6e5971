"""Safe files: complete or absent, through a crash at any moment.

Nothing here knows what is kept in a file.
"""

from __future__ import annotations

import contextlib
import errno
import io
import os
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, cast

from sync.disk import calls
from sync.errors import DiskFull, DiskWithoutNames, LaybyError

BLOCK = 1 << 20


class Unreadable(LaybyError):
    """A file that should hold JSON of a known shape doesn't."""

    code = "unreadable"


class _Target(io.RawIOBase):
    """A new file, written only through the calls of this room."""

    def __init__(self, handle: int) -> None:
        super().__init__()
        self.handle = handle
        self._at = 0

    def writable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._at

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        self._at = offset if whence == os.SEEK_SET else os.lseek(self.handle, offset, whence)
        return self._at

    def write(self, content: bytes) -> int:  # type: ignore[override]  # anything with a buffer
        block = bytes(content)
        calls.write(self.handle, self._at, block)
        self._at += len(block)
        return len(block)


@contextlib.contextmanager
def new_file(path: Path) -> Iterator[BinaryIO]:
    """A file to be written from its beginning, durable once the block ends. It has its own name from the first byte on.

    Args:
        path: the file, in a folder that exists; its old content is dropped [path]

    Yields:
        the file, open for writing [binary file]

    Raises:
        OSError: the disk did not take it.
    """
    handle = calls.create(path, fresh=True)
    try:
        file = io.BufferedWriter(cast(io.RawIOBase, _Target(handle)), BLOCK)
        yield cast(BinaryIO, file)
        file.flush()
        calls.sync(handle)
    finally:
        os.close(handle)


@contextlib.contextmanager
def replacement(path: Path) -> Iterator[BinaryIO]:
    """A file that replaces another once the block ends. Until then the old content stays, whatever happens.

    Args:
        path: the file to be replaced, in a folder that exists [path]

    Yields:
        the new file, open for writing [binary file]

    Raises:
        OSError: the disk didn't take it; the old content stays.
    """
    beside = path.with_name(f".{path.name}.new")
    try:
        with new_file(beside) as file:
            yield file
        calls.replace(beside, path)
    except BaseException:
        with contextlib.suppress(OSError):
            calls.remove(beside)
        raise
    calls.sync_folder(path.parent)


def write_whole(path: Path, content: bytes) -> None:
    """Replace a file's content. Whatever happens meanwhile, the file holds the old content or the new, never a mixture.

    Args:
        path: the file, in a folder that exists [path]
        content: what it is to hold [bytes]

    Raises:
        OSError: the disk didn't take it; the old content stays.
    """
    with replacement(path) as file:
        file.write(content)


def sync_folders(top: Path, left_out: tuple[str, ...] = ()) -> None:
    """Make a folder's content durable, with everything below it: a process may have been killed before doing so.

    Args:
        top: the folder [path]
        left_out: names of folders to skip, with everything below them [texts]

    Raises:
        OSError: the disk did not take it.
    """
    # A parent folder that can't be read wasn't made here.
    if os.access(top.parent, os.R_OK):
        calls.sync_folder(top.parent)
    for folder, below, _ in os.walk(top):
        below[:] = [name for name in below if name not in left_out]
        calls.sync_folder(Path(folder))


def make_folder(folder: Path) -> None:
    """Make a folder that only its owner can open, and those above it, durably."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    calls.make(folder)
    try:
        calls.sync_folder(folder.parent)
    except OSError:
        # The next caller must not take it for durable just because it exists.
        with contextlib.suppress(OSError):
            calls.remove_folder(folder)
        raise


def remove(path: Path) -> None:
    """Remove a file, durably; harmless if there is none."""
    if path.exists():
        calls.remove(path)
        calls.sync_folder(path.parent)


def remove_tree(top: Path) -> None:
    """Remove a folder with everything below it; harmless if there is none. Links are removed, not followed."""
    if not top.exists():
        return
    for place, folders, files in os.walk(top, topdown=False):
        for name in files:
            calls.remove(Path(place) / name)
        for name in folders:
            path = Path(place) / name
            if path.is_symlink():
                calls.remove(path)
            else:
                calls.remove_folder(path)
    calls.remove_folder(top)
    calls.sync_folder(top.parent)


def set_aside(path: Path) -> Path:
    """Rename a file that can't be used, so that a person can still look at it [its new path]."""
    aside = path.with_name(f"{path.name}.unreadable-{time.time_ns() // 1_000_000}")
    calls.replace(path, aside)
    calls.sync_folder(path.parent)
    return aside


def check_room(folder: Path, needed: int) -> None:
    """Check that a disk has room for something.

    Args:
        folder: where it will be written [path]
        needed: how much must be free [bytes]

    Raises:
        DiskFull, DiskWithoutNames: there is less, or no inode for another file.
    """
    free = shutil.disk_usage(folder).free
    if free < needed or not has_inodes(folder):
        raise disk_full(folder)


def is_full(error: OSError) -> bool:
    """Whether a system error says that a disk takes no more: no room, no quota, or a file that has grown too large."""
    return error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


def has_inodes(folder: Path) -> bool:
    """Whether a disk has an inode for another file; file systems that don't count inodes always have one."""
    if not hasattr(os, "statvfs"):
        return True
    system = os.statvfs(folder)
    return system.f_files == 0 or system.f_favail > 0


def disk_full(folder: Path) -> DiskFull:
    """The error that says what a disk has run out of: room or inodes [DiskFull]."""
    free = shutil.disk_usage(folder).free // 1_000_000
    kind = DiskFull if has_inodes(folder) else DiskWithoutNames
    return kind(free_mb=free, folder=str(folder))
