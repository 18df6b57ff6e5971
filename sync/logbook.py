"""The logbook of one folder: takes in what was judged, finds it again, and answers for visits, days and devices.

Nothing here judges an operation. The journal is the truth, the pages are what people query and can be made from it.
"""

from __future__ import annotations

import json
import logging
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

from tinydb import TinyDB

from sync import erased, fold, pages
from sync.erased import Erased
from sync.errors import LaybyError
from sync.journal import FLOOR_BYTES, Journal, Record, Watch, framed
from sync.pagefiles import read_checkpoint, read_page, tables_of
from sync.pages import Entry, Filed, Page
from sync.register import Register
from sync.storage import FolderLock, SafeStorage, Unreadable, set_aside, sync_folder, write_whole

CHECKPOINT = "checkpoint.json"
PAGES_OPEN = 48
# So many entries may wait for their pages to be written; a start after a crash makes that many again.
UNWRITTEN_MOST = 5000
IDLE_S = 2.0

log = logging.getLogger("layby.logbook")


class UnknownVisit(LaybyError):
    """No operation of that visit is filed here."""

    code = "unknown_visit"


class Logbook:
    """One folder's records. A context manager: it holds the folder's lock from entry to exit.

    Every public method may be called from several threads; whoever reads, judges and files in one go does so inside
    `writing()`.

    Args of the constructor:
        folder: where the records are; made when missing [path]
        rulebook: all books [JSON objects by stem]
        floor_bytes: room the disk must keep free [bytes]
        patience_s: how long to wait for another holder of the folder [s]

    Raises on entry:
        FolderBusy: another process works on the folder.
    """

    def __init__(
        self, folder: Path, rulebook: dict[str, Any], floor_bytes: int = FLOOR_BYTES, patience_s: float = 0
    ) -> None:
        self.folder = Path(folder)
        self.rulebook = rulebook
        self.kinds: dict[str, Any] = rulebook["kinds"]
        self.patience_s, self.floor_bytes = patience_s, floor_bytes
        self._folder_lock = FolderLock(self.folder)
        self.lock = threading.RLock()
        self._pages: OrderedDict[str, Page] = OrderedDict()
        self._unwritten = 0
        self._last_filed = 0.0
        self._ended = threading.Event()
        self._complete = self._page_files = 0
        self._kept: dict[str, int] = {}
        self.register = Register(self)

    def __enter__(self) -> Logbook:
        self._folder_lock.take(self.patience_s)
        try:
            erased.finish(self.folder)
            self.erased = Erased(self.folder)
            self._journal = Journal(self.folder, self.floor_bytes)
            self._catch_up()
        except BaseException:
            self._folder_lock.give_back()
            raise
        self._flusher = threading.Thread(target=self._flush_when_idle, name="layby-pages", daemon=True)
        self._flusher.start()
        return self

    def __exit__(self, *raised: object) -> None:
        self.close()

    def close(self) -> None:
        """Write the pages and let the folder go; harmless when called twice."""
        if self._ended.is_set():
            return
        self._ended.set()
        self._flusher.join()
        with self.lock:
            try:
                self.flush()
            except OSError:
                log.exception("the pages could not be written; the journal holds all, the next start makes them again")
            self._journal.close()
            self._folder_lock.give_back()

    def _catch_up(self, watch: Watch | None = None) -> None:
        """Enter what the journal holds beyond the pages, and set an unfinished last write aside."""
        start = self._checkpoint()
        for record in self._journal.records(start, watch):
            self._enter(Filed(record, self.kinds))
        self._journal.set_torn_tail_aside(time.time_ns() // 1_000_000)
        for offset, length in self._journal.damage:
            log.error("the journal is damaged at byte %d, %d bytes long; what follows is sound", offset, length)
        self._complete = self._journal.size

    def _checkpoint(self) -> int:
        """The journal offset up to which all pages are complete; 0 where that cannot be told or a page is gone."""
        self._page_files = sum(1 for _ in (self.folder / "pages").rglob("*.json"))
        path = self.folder / CHECKPOINT
        offset, files = read_checkpoint(path.read_bytes()) if path.exists() else (0, 0)
        if offset > self._journal.size or files > self._page_files:
            log.warning("pages are missing or ahead of the journal; they are made from it again")
            self._forget_checkpoint()
            return 0
        return offset

    def _path(self, name: str) -> Path:
        return self.folder / "pages" / f"{name}.json"

    def _page(self, name: str) -> Page:
        page = self._pages.get(name)
        if page is None:
            page = self._pages[name] = self._loaded(name)
            if len(self._pages) > PAGES_OPEN:
                self._let_go()
        self._pages.move_to_end(name)
        return page

    def _let_go(self) -> None:
        """Close the page that was not needed for longest."""
        name, oldest = next(iter(self._pages.items()))
        try:
            if oldest.changed:
                self._write(oldest)
        except OSError:
            log.exception("page %s could not be written now and stays open", name)
        else:
            del self._pages[name]

    def _loaded(self, name: str) -> Page:
        path = self._path(name)
        try:
            with TinyDB(path, storage=SafeStorage) as database:
                kept = database.storage.read()
            return Page(name) if kept is None else read_page(name, kept, self._journal.size)
        except Unreadable:
            self._forget_checkpoint()
            log.warning("page %s cannot be used; set aside as %s and made again", name, set_aside(path).name)
            return self.rebuilt(name)

    def _forget_checkpoint(self) -> None:
        # Until the next flush a start compares all pages: one made again is not on the disk yet, and after a crash in
        # between, with new pages written, the old checkpoint would seem to fit.
        (self.folder / CHECKPOINT).unlink(missing_ok=True)
        sync_folder(self.folder)
        self._kept = {}

    def rebuilt(self, name: str) -> Page:
        """A page made from the whole journal [Page]."""
        page = Page(name)
        for record in self._journal.records():
            filed = Filed(record, self.kinds)
            if name.startswith("changes/"):
                self.placed(filed)
            if name in pages.pages_of(filed):
                pages.post(page, filed)
        return page

    def _enter(self, filed: Filed) -> None:
        """Post a record to its pages. Until all have it, a page that is closed meanwhile must not claim to cover it."""
        record = self.placed(filed).record
        self._complete = record.offset
        for name in pages.pages_of(filed):
            page = self._page(name)
            if record.offset >= page.covers:
                pages.post(page, filed)
                self._unwritten += 1
                self.register.forget(name)
        self._complete = record.offset + record.length

    def placed(self, filed: Filed) -> Filed:
        """A record with what was filed before it, as far as that says who has to be told of it."""
        if filed.in_visit:
            ops = (self.entry(filed.op["visit"]) or {"ops": []})["ops"]
            late = bool(ops) and ops[-1]["offset"] >= filed.record.offset
            filed.before = [op for op in ops if op["offset"] < filed.record.offset] if late else ops
        elif filed.filed:
            filed.parties = self.register.devices_of(*filed.subject)
        return filed

    def _write(self, page: Page) -> None:
        path = self._path(page.name)
        is_new = not path.exists()
        page.covers = self._complete
        # All tables in one replacement of the file: TinyDB's own calls would write once a table.
        with TinyDB(path, storage=SafeStorage) as database:
            database.storage.write(tables_of(page))
        self._page_files += is_new
        page.changed = False

    def flush(self) -> None:
        """Write every changed page, then the checkpoint.

        Raises:
            OSError: the disk did not take it; the journal still holds everything.
        """
        with self.lock:
            changed = [page for page in self._pages.values() if page.changed]
            for page in changed:
                self._write(page)
            # Pages may have been written one by one since, so the checkpoint is judged by itself.
            kept = {"offset": self._complete, "pages": self._page_files}
            if kept != self._kept:
                write_whole(self.folder / CHECKPOINT, json.dumps(kept).encode("ascii"))
                self._kept = kept
            self._unwritten = 0

    def _flush_when_idle(self) -> None:
        while not self._ended.wait(IDLE_S / 2):
            with self.lock:
                if self._unwritten and time.monotonic() - self._last_filed < IDLE_S:
                    continue
                if self._unwritten:
                    self._flush_or_say()
            try:
                self.register.warm(self._ended)
            except (LaybyError, OSError):
                # Whoever searches will be told; here nobody asks, and the pages still have to be written later on.
                log.exception("the register could not be made ready")

    @property
    def journal(self) -> Journal:
        """The open journal, to be copied or counted; `file` alone writes it [Journal]."""
        return self._journal

    def make_again(self, name: str) -> None:
        """Make one page from the whole journal; what was on it is let go."""
        with self.lock:
            page = self._pages[name] = self.rebuilt(name)
            page.changed = True
            self.register.forget(name)

    def made_anew(self, work: Callable[[], object], watch: Watch | None = None) -> None:
        """Let somebody change the files while nobody reads; where no checkpoint is left, pages are made anew."""
        with self.lock:
            self._pages.clear()
            self.register.forget()
            self._kept = {}
            self._journal.close()
            try:
                work()
            finally:
                self._journal = Journal(self.folder, self.floor_bytes)
                self.erased = Erased(self.folder)
                self._catch_up(watch)

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Nobody else files or reads meanwhile, so that what was looked up still holds when it is filed."""
        with self.lock:
            if self._complete != self._journal.size:
                # An earlier filing broke off between the journal and its pages: nothing is looked up before they agree.
                self._pages.clear()
                self.register.forget()
                self._catch_up()
            yield

    def file(
        self, entries: list[tuple[int, dict[str, Any], bytes]], judged: dict[str, Filed] | None = None
    ) -> None:
        """File lines with what was answered: one fsync of the journal, then the pages.

        Args:
            entries: (received [ms since 1970], result, op line without its line feed) each [list]
            judged: operations among them that the caller has taken apart already, by their ids [Filed]

        Raises:
            DiskFull, JournalFailed: nothing was filed.
        """
        if not entries:
            return
        with self.writing():
            records = [framed(*entry) for entry in entries]
            offsets = self._journal.append(records)
            for offset, record, (received_ms, result, line) in zip(offsets, records, entries, strict=True):
                entered = Record(offset, len(record), received_ms, result, line)
                known = (judged or {}).get(result["id"])
                self._enter(Filed(entered, self.kinds) if known is None else known.placed(entered))
            self._last_filed = time.monotonic()
            if self._unwritten >= UNWRITTEN_MOST:
                self._flush_or_say()

    def _flush_or_say(self) -> None:
        """What is filed stays filed even where the disk takes no page now."""
        try:
            self.flush()
        except OSError:
            log.exception("the pages could not be written now; the journal holds all")

    def lookup(self, op_id: str) -> dict[str, Any] | None:
        """What was first answered for an operation [result], or None where it is not here."""
        with self.lock:
            return self._result(self._page(pages.day_page(op_id)).table("ops").get(op_id))

    def lookup_line(self, digest: str) -> dict[str, Any] | None:
        """What was first answered for a line that is found by its bytes alone [result], or None."""
        with self.lock:
            return self._result(self._page(pages.digest_page(digest)).table("lines").get(digest))

    def _result(self, place: Entry | None) -> dict[str, Any] | None:
        return None if place is None else self._journal.read(place["offset"], place["length"]).result

    def entry(self, visit_id: str) -> Entry | None:
        """A visit's entry: opened, ops, heads, stand_ins, summary [JSON object], or None. To be read, not changed."""
        with self.lock:
            return self._page(pages.day_page(visit_id)).table("visits").get(visit_id)

    def table(self, page: str, name: str) -> dict[str, Entry]:
        """A table of a page by its key. To be read while `lock` is held, not changed."""
        return self._page(page).table(name)

    def page_names(self, folder: str) -> list[str]:
        """The names of all pages in a folder of them, on disk or open, in order [list of texts]."""
        on_disk = {f"{folder}/{path.stem}" for path in (self.folder / "pages" / folder).glob("*.json")}
        return sorted(on_disk | {name for name in self._pages if name.rpartition("/")[0] == folder})

    def line(self, place: Entry) -> bytes:
        """The op line at a place {offset, length}, as journalled, without its line feed [bytes]."""
        with self.lock:
            return self._journal.read(place["offset"], place["length"]).line

    def check_of(self, offset: int) -> tuple[int, str]:
        """The length and the check of the record at an offset, (0, "00000000") where none begins [bytes, hex]."""
        with self.lock:
            return self._journal.check_of(offset)

    def card(self, what: str, identifier: str) -> Entry | None:
        """The entry of what was filed beside the visits for a vehicle or customer [JSON object], or None."""
        with self.lock:
            return self._page(pages.card_page(what, identifier)).table("cards").get(identifier)

    def ops(self, visit_id: str) -> list[dict[str, Any]]:
        """The operations filed for a visit, in the order they came in.

        Args:
            visit_id: the visit [UUID version 7]

        Returns:
            the operations, [] for a visit that is not here [list of JSON objects]

        Raises:
            JournalDamaged: one of them does not read back.
        """
        with self.lock:
            return self._ops_of(self.entry(visit_id))

    def card_ops(self, what: str, identifier: str) -> list[dict[str, Any]]:
        """The operations beside the visits for a vehicle or customer, in the order they came in [JSON objects]."""
        with self.lock:
            return self._ops_of(self.card(what, identifier))

    def _ops_of(self, entry: Entry | None) -> list[dict[str, Any]]:
        places = [] if entry is None else entry["ops"]
        return [Filed(self._journal.read(place["offset"], place["length"]), self.kinds).op for place in places]

    def visit(self, visit_id: str) -> dict[str, Any]:
        """The visit that its filed operations amount to [JSON object of schema 1].

        Raises:
            UnknownVisit: nothing of it is filed here.
        """
        found = self.ops(visit_id)
        if not found:
            raise UnknownVisit(visit=visit_id)
        return fold.fold(found, self.kinds)

    def visits_on(self, day: date) -> list[str]:
        """The visits that started on a local day, earliest first [list of UUID version 7]."""
        with self.lock:
            page = self._page(f"days/{day.isoformat()}")
            found = []
            for visit_id in list(page.table("started")):
                started_at = ((self.entry(visit_id) or {}).get("summary") or {}).get("started_at")
                if started_at is not None and pages.local_day_page(started_at) == page.name:
                    found.append((started_at, visit_id))
            return [visit_id for _, visit_id in sorted(found)]
