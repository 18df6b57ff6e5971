"""The lock on a folder of records. It is the operating system's own, so a killed process leaves nothing behind.

Nothing here knows what the folder holds.
"""

from __future__ import annotations

from pathlib import Path

from filelock import FileLock, Timeout

from sync.disk.safe_files import make_folder
from sync.errors import LaybyError

LOCK_NAME = "layby.lock"


class FolderBusy(LaybyError):
    """Another process works on the folder."""

    code = "folder_busy"


class FolderLock:
    """The lock of one folder.

    Args of the constructor:
        folder: the folder [path]
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        # One thread takes it and another may release it when a service ends, so it isn't bound to a thread.
        self._lock = FileLock(folder / LOCK_NAME, thread_local=False, mode=0o600)

    def take(self, patience_s: float = 0) -> None:
        """Take the lock.

        Args:
            patience_s: how long to wait for the current holder [s]

        Raises:
            FolderBusy: somebody else holds it.
        """
        make_folder(self.folder)
        try:
            self._lock.acquire(timeout=patience_s, poll_interval=0.05)
        except Timeout as error:
            raise FolderBusy(folder=str(self.folder)) from error

    def give_back(self) -> None:
        """Let the next one in; harmless if not held."""
        self._lock.release()
