"""The cache of views: those of one folder, a few of them open in memory, and the checkpoint: how far all reach.

Nothing here knows what stands on a view or how one is made from the journal; whoever has the cache says so.
"""

from __future__ import annotations

import json
import logging
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path

from tinydb import TinyDB

from sync.records.safe_files import SafeStorage, Unreadable, set_aside, sync_folder, write_whole
from sync.records.views import View, documents_of, read_view

CHECKPOINT = "checkpoint.json"
VIEWS_OPEN = 48

log = logging.getLogger("layby.logbook")


class ViewCache:
    """The views of a folder. It has no lock of its own: whoever calls holds the logbook's.

    Args of the constructor:
        folder: where `pages` and the checkpoint are [path]
        end: the end of the journal, beyond which no view may reach [function to bytes]
        make: a view from the journal, where its file cannot be used [function from its name to View]
    """

    def __init__(self, folder: Path, end: Callable[[], int], make: Callable[[str], View]) -> None:
        self.folder = folder
        self.end = end
        self.make = make
        # Up to here every record of the journal stands on its views [bytes].
        self.complete = 0
        self._open: OrderedDict[str, View] = OrderedDict()
        self._files = 0
        self._checkpoint: dict[str, int] = {}

    def checkpoint(self) -> int:
        """The journal offset up to which all views are complete; 0 where that cannot be told or a view is gone."""
        self._files = sum(1 for _ in (self.folder / "pages").rglob("*.json"))
        path = self.folder / CHECKPOINT
        offset, files = read_checkpoint(path.read_bytes()) if path.exists() else (0, 0)
        if offset > self.end() or files > self._files:
            log.warning("pages are missing or ahead of the journal; they are made from it again")
            self._forget_checkpoint()
            return 0
        return offset

    def _forget_checkpoint(self) -> None:
        # Until the next flush a start compares all views: one made again is not on the disk yet, and after a crash in
        # between, with new views written, the old checkpoint would seem to fit.
        (self.folder / CHECKPOINT).unlink(missing_ok=True)
        sync_folder(self.folder)
        self._checkpoint = {}

    def _path(self, name: str) -> Path:
        return self.folder / "pages" / f"{name}.json"

    def names(self, folder: str) -> list[str]:
        """The names of all views in a folder of them, on disk or open, in order [list of texts]."""
        on_disk = {f"{folder}/{path.stem}" for path in (self.folder / "pages" / folder).glob("*.json")}
        return sorted(on_disk | {name for name in self._open if name.rpartition("/")[0] == folder})

    def view(self, name: str) -> View:
        """A view by its name, read where it is not open; an empty one where there is none yet [View]."""
        view = self._open.get(name)
        if view is None:
            view = self._open[name] = self._loaded(name)
            if len(self._open) > VIEWS_OPEN:
                self._let_go()
        self._open.move_to_end(name)
        return view

    def _loaded(self, name: str) -> View:
        path = self._path(name)
        try:
            with TinyDB(path, storage=SafeStorage) as database:
                documents = database.storage.read()
            return View(name) if documents is None else read_view(name, documents, self.end())
        except Unreadable:
            self._forget_checkpoint()
            log.warning("page %s cannot be used; set aside as %s and made again", name, set_aside(path).name)
            return self.make(name)

    def _let_go(self) -> None:
        """Close the view that was not needed for longest."""
        name, oldest = next(iter(self._open.items()))
        try:
            if oldest.changed:
                self._write(oldest)
        except OSError:
            log.exception("page %s could not be written now and stays open", name)
        else:
            del self._open[name]

    def replace(self, view: View) -> None:
        """Let a view made anew stand for the one of its name."""
        self._open[view.name] = view
        view.changed = True

    def close(self) -> None:
        """Let all open views go as they are, written or not; they are read or made again."""
        self._open.clear()

    def forget(self) -> None:
        """Somebody changes the files: what was known of them counts no more."""
        self._open.clear()
        self._checkpoint = {}

    def _write(self, view: View) -> None:
        path = self._path(view.name)
        is_new = not path.exists()
        view.covers = self.complete
        # All tables in one replacement of the file: TinyDB's own calls would write once a table.
        with TinyDB(path, storage=SafeStorage) as database:
            database.storage.write(documents_of(view))
        self._files += is_new
        view.changed = False

    def flush(self) -> None:
        """Write every changed view, then the checkpoint.

        Raises:
            OSError: the disk did not take it; the journal still holds everything.
        """
        for view in [view for view in self._open.values() if view.changed]:
            self._write(view)
        # Views may have been written one by one since, so the checkpoint is judged by itself.
        checkpoint = {"offset": self.complete, "pages": self._files}
        if checkpoint != self._checkpoint:
            write_whole(self.folder / CHECKPOINT, json.dumps(checkpoint).encode("ascii"))
            self._checkpoint = checkpoint


def read_checkpoint(content: bytes) -> tuple[int, int]:
    """Up to where all views were complete, and how many there were; (0, 0) where that cannot be told [bytes, count]."""
    try:
        checkpoint = json.loads(content)
        return int(checkpoint["offset"]), int(checkpoint["pages"])
    except (ValueError, KeyError, TypeError):
        log.warning("the checkpoint cannot be read; all pages are compared with the journal")
        return 0, 0
