"""The system calls that change a disk: every write, sync, rename and removal of Layby is here.

Nothing here knows what a file holds or which order of calls is safe; `safe_files` and the stores do. A test plays a
crash after each of these calls, so nothing may change a file without going through them.
"""

from __future__ import annotations

import os
from pathlib import Path

_BINARY = getattr(os, "O_BINARY", 0)


def create(path: Path, fresh: bool = False) -> int:
    """Open a file for reading and writing; if there is none, create one that only its owner can read.

    Args:
        path: the file, in a folder that exists [path]
        fresh: whether to drop its content [bool]

    Returns:
        the handle [file descriptor]

    Raises:
        OSError: the system refused to open it.
    """
    return os.open(path, os.O_RDWR | os.O_CREAT | _BINARY | (os.O_TRUNC if fresh else 0), 0o600)


def write(handle: int, offset: int, content: bytes | memoryview) -> None:
    """Write all of some bytes at a place of a file.

    Raises:
        OSError: the disk didn't take all of them; some may be there.
    """
    os.lseek(handle, offset, os.SEEK_SET)
    rest = memoryview(content)
    while rest:
        rest = rest[os.write(handle, rest) :]


def sync(handle: int) -> None:
    """Make a file's content durable. After an error nobody knows which part of it is on the disk."""
    os.fsync(handle)


def cut(handle: int, size: int) -> None:
    """Cut a file off at a place [bytes]."""
    os.ftruncate(handle, size)


def replace(source: Path, target: Path) -> None:
    """Move a file or a folder over another; durable once the folder is synced."""
    os.replace(source, target)


def remove(path: Path) -> None:
    """Remove a file; durable once its folder is synced. Harmless if there is none."""
    path.unlink(missing_ok=True)


def make(folder: Path) -> None:
    """Make a folder that only its owner can open; harmless if it exists."""
    try:
        folder.mkdir(mode=0o700)
    except FileExistsError:
        if not folder.is_dir():
            raise


def remove_folder(folder: Path) -> None:
    """Remove an empty folder; harmless if there is none."""
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
