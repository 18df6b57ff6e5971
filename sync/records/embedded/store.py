"""The embedded store: a folder's journal, its views and the lock on the folder, behind the store's interface.

Nothing here knows what a record means.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from sync.disk.folder_lock import FolderLock
from sync.disk.safe_files import disk_full, is_full, remove, remove_tree, sync_folders
from sync.errors import DiskFull, JournalFailed, LaybyError
from sync.records.embedded import framing, journal, migration
from sync.records.embedded.folder_files import FolderFiles
from sync.records.embedded.journal import FLOOR_BYTES, Journal
from sync.records.embedded.proof import Proof
from sync.records.embedded.view_files import CHECKPOINT, ViewFiles
from sync.records.store.interface import NONE, Damage, Entry, Record, RecordDamaged, Unshared, Views, Watch

# Many folders, each of which is taken care of when something in it is needed.
_LEFT_OUT = ("photos",)
_SCRATCH = ".pages.new"
PAGES = "pages"

log = logging.getLogger("layby.store")


class EmbeddedStore(Unshared):
    """The store of one folder, held from the creation of this object until `close`.

    Args of the constructor:
        folder: where the records are; created if missing [path]
        floor_bytes: room the disk must keep free [bytes]
        patience_s: how long to wait for another holder of the folder [s]

    Raises:
        FolderBusy: another process works on the folder.
    """

    # In bytes of the journal.
    stretch = 4 * 1024 * 1024

    def __init__(self, folder: Path, floor_bytes: int = FLOOR_BYTES, patience_s: float = 0) -> None:
        self.folder = folder
        self.files = FolderFiles(folder, floor_bytes)
        self._lock = FolderLock(folder)
        self._lock.take(patience_s)
        try:
            self._open(floor_bytes)
        except BaseException:
            self._lock.give_back()
            raise

    def _open(self, floor_bytes: int) -> None:
        self._refusal: LaybyError | None = None
        path, is_new = self.folder / journal.NAME, not (self.folder / journal.NAME).exists()
        self._proof = Proof(self.folder)
        try:
            # A former process may have been killed after a rename and before it was durable.
            sync_folders(self.folder, left_out=_LEFT_OUT)
            for left in (_SCRATCH, f".{PAGES}.old"):
                remove_tree(self.folder / left)
            for unfinished in (path for path in self.folder.glob(".*.new") if path.is_file()):
                remove(unfinished)
            migration.to_this_format(self.folder)
        except OSError as error:
            self._refuse(error)
        self._journal = Journal(path, floor_bytes)
        try:
            if is_new:
                sync_folders(self.folder, left_out=_LEFT_OUT)
            self._proof.settle(self._journal)
        except (DiskFull, JournalFailed, OSError) as error:
            self._refuse(error)
        self._views = ViewFiles(self.folder / PAGES, self.folder / CHECKPOINT)

    def _refuse(self, error: LaybyError | OSError) -> None:
        """Serve what can be read, but accept and promise nothing: the disk didn't let this start be made safe."""
        log.error("the records are open for reading alone: %s", error)
        if isinstance(error, LaybyError):
            self._refusal = error
        elif is_full(error):
            self._refusal = disk_full(self.folder)
        else:
            self._refusal = JournalFailed(file=str(self.folder / journal.NAME))

    # The store's interface ------------------------------------------------------------------------------------------

    @property
    def views(self) -> ViewFiles:
        """The views of these records."""
        return self._views

    @property
    def last(self) -> int:
        """The number of the latest record that was read or appended; NONE before the first."""
        return self._journal.last

    @property
    def refusal(self) -> LaybyError | None:
        """Why nothing can be appended; None if it can."""
        return self._refusal or self._journal.refusal

    @property
    def damage(self) -> list[Damage]:
        """What is known not to read back, in order."""
        return list(self._journal.damage)

    @property
    def aside(self) -> list[str]:
        """The names of files that were set aside because they can't be used."""
        patterns = ("*.unreadable-*", "pages/**/*.unreadable-*", "journal.damaged-*")
        paths = [path for pattern in patterns for path in self.folder.glob(pattern)]
        return sorted(path.relative_to(self.folder).as_posix() for path in paths)

    def append(self, entries: Sequence[Entry]) -> list[Record]:
        """Append records, durably before this returns; see `Store.append`."""
        if self._refusal is not None:
            raise self._refusal
        return self._journal.append(entries)

    def read(self, number: int) -> Record:
        """One record; see `Store.read`."""
        return self._journal.read(number)

    def check_of(self, number: int) -> str:
        """The check of a record, zeros if none begins there; see `Store.check_of`."""
        return self._journal.check_of(number) or "0" * 8

    def records(self, after: int = NONE, watch: Watch | None = None) -> Iterator[Record]:
        """Every record that reads back, in order; see `Store.records`."""
        self._journal.last = max(self._journal.last, after)
        return self._journal.records(0 if after == NONE else self._journal.next_of(after), watch)

    def settle_end(self) -> None:
        """Set an unfinished last write aside; called once all records have been read."""
        try:
            self._journal.set_torn_tail_aside(time.time_ns() // 1_000_000)
        except OSError as error:
            self._refuse(error)

    def check_room(self) -> None:
        """Check that there is room for `blank`; see `Store.check_room`."""
        self._journal.check_room()

    def blank(self, numbers: Sequence[int], marks: Sequence[bytes] = ()) -> None:
        """Empty records; see `Store.blank`."""
        # Bytes are overwritten: only where a whole record is certain to be.
        pieces = [(number, self._blank_for(number)) for number in sorted(numbers) if self._reads(number)]
        pieces += [(at, b" " * length) for at, length in self._scars(marks)]
        self._journal.rewrite(pieces)

    def _reads(self, number: int) -> bool:
        try:
            self._journal.read(number)
        except RecordDamaged:
            return False
        return True

    def _blank_for(self, number: int) -> bytes:
        check = self.check_of(number)
        return framing.blank(self._journal.next_of(number) - number, check)

    def _scars(self, marks: Sequence[bytes]) -> Iterator[tuple[int, int]]:
        """Places of damaged lines that contain one of the marks, without their line feeds [(byte, length) each]."""
        for first, end in self.damage if marks else []:
            at = first
            for line in self._journal.take(first, end - first).split(b"\n"):
                if any(mark in line for mark in marks):
                    yield at, len(line)
                at += len(line) + 1

    def give_up(self) -> list[str]:
        """Set damage aside and put blanks in its place; see `Store.give_up`."""
        names, pieces = [], []
        for first, end in self.damage:
            aside = self.folder / f"journal.damaged-{first}"
            self._journal.copy_aside(aside, first, end)
            names.append(aside.name)
            pieces.append((first, framing.blank(end - first, "0" * 8, "lost")))
        if pieces:
            self._journal.rewrite(pieces)
            self._journal.damage.clear()
        return names

    def scratch_views(self) -> ViewFiles:
        """Empty views, to be filled beside those in use."""
        checkpoint = self.folder / f".{CHECKPOINT}.scratch"
        remove_tree(self.folder / _SCRATCH)
        remove(checkpoint)
        return ViewFiles(self.folder / _SCRATCH, checkpoint)

    def adopt(self, views: Views) -> None:
        """Let such views replace those in use."""
        if not isinstance(views, ViewFiles):
            raise TypeError("these views are another store's")
        views.put_in_place_of(self._views)
        remove_tree(self.folder / f".{PAGES}.old")
        remove(views.checkpoint)

    def note_end(self) -> None:
        """Note how far the journal is proved, so that the next start has less to prove."""
        if self.refusal is None:
            self._proof.note(self._journal.size)

    def close(self, clean: bool) -> None:
        """Release everything."""
        try:
            if clean:
                self.note_end()
        except OSError as error:
            log.warning("the journal's end could not be noted; the next start proves all of it: %s", error)
        self._journal.close()
        self._lock.give_back()
