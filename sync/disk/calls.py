"""The system calls by which anything is changed on a disk: every write, sync, renaming and removal of Layby is here.

Nothing here knows what a file holds or in which order calls are safe; `safe_files` and the stores do. A test plays a
crash after each of these calls, so nothing may change a file past them.
"""

from __future__ import annotations

import os
from pathlib import Path

_BINARY = getattr(os, "O_BINARY", 0)


def create(path: Path, fresh: bool = False) -> int:
    """Open a file to be read and written, made for its owner's eyes where there is none.

    Args:
        path: the file, in a folder that exists [path]
        fresh: whether what it holds is to go [bool]

    Returns:
        the handle [file descriptor]

    Raises:
        OSError: the system did not let it be opened.
    """
    return os.open(path, os.O_RDWR | os.O_CREAT | _BINARY | (os.O_TRUNC if fresh else 0), 0o600)


def write(handle: int, offset: int, content: bytes | memoryview) -> None:
    """Write all of some bytes at a place of a file.

    Raises:
        OSError: the disk did not take all of them; some may be there.
    """
    os.lseek(handle, offset, os.SEEK_SET)
    rest = memoryview(content)
    while rest:
        rest = rest[os.write(handle, rest) :]


def sync(handle: int) -> None:
    """Make durable what a file holds. After an error nobody knows what of it is on the disk."""
    os.fsync(handle)


def cut(handle: int, size: int) -> None:
    """Let a file end at a place [bytes]."""
    os.ftruncate(handle, size)


def replace(source: Path, target: Path) -> None:
    """Put a file or a folder in the place of another; durable once the folder is synced."""
    os.replace(source, target)


def remove(path: Path) -> None:
    """Remove a file; durable once its folder is synced. Harmless where there is none."""
    path.unlink(missing_ok=True)


def make(folder: Path) -> None:
    """Make a folder for its owner alone; harmless where it is there."""
    try:
        folder.mkdir(mode=0o700)
    except FileExistsError:
        if not folder.is_dir():
            raise


def remove_folder(folder: Path) -> None:
    """Remove an empty folder; harmless where there is none."""
    if folder.exists():
        folder.rmdir()


def sync_folder(folder: Path) -> None:
    """Make a folder's entries durable. Windows has no such call and needs none."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
