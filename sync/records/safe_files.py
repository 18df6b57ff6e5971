"""Safe files: whole or not at all, through a crash at any moment; TinyDB's storage on top of them; the folder's lock.

Nothing here knows what is kept in a file.
"""

from __future__ import annotations

import contextlib
import json
import os
import time
from pathlib import Path

from filelock import FileLock, Timeout
from tinydb.storages import Storage

from sync.errors import LaybyError
from sync.kernel.json_tree import JsonObject

LOCK_NAME = "layby.lock"


class FolderBusy(LaybyError):
    """Another process works on the folder."""

    code = "folder_busy"


class Unreadable(LaybyError):
    """A file that should hold JSON of a known shape does not."""

    code = "unreadable"


def sync_folder(folder: Path) -> None:
    """Make a folder's entries durable. Windows has no such call and needs none."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folders(top: Path, left_out: tuple[str, ...] = ()) -> None:
    """Make durable that a folder and all below it hold what they hold: a process may have been killed before that.

    Args:
        top: the folder [path]
        left_out: names of folders to pass over, with all below them [texts]

    Raises:
        OSError: the disk did not take it.
    """
    # A folder above that cannot be read was not made here.
    if os.access(top.parent, os.R_OK):
        sync_folder(top.parent)
    for folder, below, _ in os.walk(top):
        below[:] = [name for name in below if name not in left_out]
        sync_folder(Path(folder))


def make_folder(folder: Path) -> None:
    """A folder for its owner alone, and those above it, durable."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    with contextlib.suppress(FileExistsError):
        folder.mkdir(mode=0o700)
    sync_folder(folder.parent)


def write_whole(path: Path, content: bytes) -> None:
    """Replace a file's content; whatever happens meanwhile, it holds the old content or the new, never a mixture.

    Args:
        path: the file, in a folder that exists [path]
        content: what it is to hold [bytes]

    Raises:
        OSError: the disk did not take it; the old content stands.
    """
    beside = path.with_name(f".{path.name}.new")
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_BINARY", 0), 0o600)
    try:
        with open(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(beside, path)
    except OSError:
        beside.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


class SafeStorage(Storage):
    """TinyDB storage over one JSON file, replaced whole on each write.

    TinyDB's own storage rewrites in place and cuts last, which leaves unreadable files behind a crash; its caching
    layer keeps writes back. Neither is used. One process and one thread at a time: the folder's lock and the owner's
    own lock see to that.
    """

    def __init__(self, path: Path | str) -> None:
        super().__init__()
        self.path = Path(path)

    def read(self) -> dict[str, JsonObject] | None:
        """All tables, or None where there is no file yet.

        Raises:
            Unreadable: the file is no JSON object of objects.
        """
        try:
            content = self.path.read_bytes()
        except FileNotFoundError:
            return None
        try:
            tables = json.loads(content)
        except ValueError as error:
            raise Unreadable(file=str(self.path)) from error
        if not isinstance(tables, dict) or not all(isinstance(table, dict) for table in tables.values()):
            raise Unreadable(file=str(self.path))
        return tables

    def write(self, data: dict[str, JsonObject]) -> None:
        """Replace all tables."""
        make_folder(self.path.parent)
        write_whole(self.path, json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode("utf-8"))


def set_aside(path: Path) -> Path:
    """Rename a file that cannot be used, so that a person can still look at it [its new path]."""
    aside = path.with_name(f"{path.name}.unreadable-{time.time_ns() // 1_000_000}")
    os.replace(path, aside)
    sync_folder(path.parent)
    return aside


class FolderLock:
    """The operating system's lock on a folder: it goes with the process, so a killed one leaves nothing behind."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        # Taken in one thread and given back in another when a service ends, so not bound to a thread.
        self._lock = FileLock(folder / LOCK_NAME, thread_local=False, mode=0o600)

    def take(self, patience_s: float = 0) -> None:
        """Take the lock.

        Args:
            patience_s: how long to wait for the one who holds it [s]

        Raises:
            FolderBusy: somebody else holds it.
        """
        make_folder(self.folder)
        try:
            self._lock.acquire(timeout=patience_s, poll_interval=0.05)
        except Timeout as error:
            raise FolderBusy(folder=str(self.folder)) from error

    def give_back(self) -> None:
        """Let the next one in; harmless when not held."""
        self._lock.release()
