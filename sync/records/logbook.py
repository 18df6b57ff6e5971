"""The logbook of one folder: takes in what was judged, finds it again, and answers for visits, days and devices.

Nothing here judges an operation. The journal is the truth, the pages are what people query and can be made from it.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

from sync.errors import LaybyError
from sync.isolation import Odd, apart
from sync.kernel import fold
from sync.records import erasure, views
from sync.records.erasure import Erasures
from sync.records.journal import FLOOR_BYTES, Journal, Record, Watch, framed
from sync.records.record import Entry, FiledRecord
from sync.records.safe_files import FolderLock, sync_folders
from sync.records.search import Search
from sync.records.view_cache import ViewCache
from sync.records.view_names import card_page, day_page, digest_page, local_day_page
from sync.records.views import Page

# So many entries may wait for their pages to be written; a start after a crash makes that many again.
UNWRITTEN_MOST = 5000
IDLE_S = 2.0
# After pages could not be written the disk is left alone for so long, so that it is not asked at every filing.
AGAIN_S = 60.0

log = logging.getLogger("layby.logbook")


class UnknownVisit(LaybyError):
    """No operation of that visit is filed here."""

    code = "unknown_visit"


def _place(record: Record) -> str:
    return f"the record at byte {record.offset} of the journal"


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
        self._view_cache = ViewCache(self.folder, lambda: self._journal.size, self.rebuilt)
        self._unwritten = 0
        self._last_filed = 0.0
        self._write_again = 0.0
        self._ended = threading.Event()
        # Where records start that could not be entered on their pages since this process began [bytes].
        self.left_out: set[int] = set()
        self.search = Search(self)

    def __enter__(self) -> Logbook:
        self._folder_lock.take(self.patience_s)
        try:
            # A former process may have been killed behind a renaming and before it was durable. The many folders of
            # photos see to themselves when a photo is asked for.
            sync_folders(self.folder, left_out=("photos",))
            erasure.finish(self.folder)
            self.erased = Erasures(self.folder)
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
        """Enter what the journal holds beyond the pages, and set an unfinished last write aside.

        A record that cannot be entered is logged and left out; the next ones are entered all the same.
        """
        start = self._view_cache.checkpoint()
        for record in self._journal.records(start, watch):
            if isinstance(apart(_place(record), partial(self._enter, FiledRecord(record, self.kinds)), OSError), Odd):
                self.left_out.add(record.offset)
                self._view_cache.complete = record.offset + record.length
        self._journal.set_torn_tail_aside(time.time_ns() // 1_000_000)
        for offset, length in self._journal.damage:
            log.error("the journal is damaged at byte %d, %d bytes long; what follows is sound", offset, length)
        self._view_cache.complete = self._journal.size

    def rebuilt(self, name: str) -> Page:
        """A page made from the whole journal [Page]."""
        page = Page(name)
        for record in self._journal.records():
            apart(_place(record), partial(self._post_on, page, FiledRecord(record, self.kinds)), OSError)
        return page

    def _post_on(self, page: Page, filed: FiledRecord) -> None:
        if page.name.startswith("changes/"):
            self.placed(filed)
        if page.name in views.pages_of(filed):
            views.post(page, filed)

    def _enter(self, filed: FiledRecord) -> None:
        """Post a record to its pages. Until all have it, a page that is closed meanwhile must not claim to cover it."""
        record = self.placed(filed).record
        self._view_cache.complete = record.offset
        for name in views.pages_of(filed):
            page = self._view_cache.page(name)
            if record.offset >= page.covers:
                views.post(page, filed)
                self._unwritten += 1
                self.search.forget(name)
        self._view_cache.complete = record.offset + record.length

    def placed(self, filed: FiledRecord) -> FiledRecord:
        """A record with what was filed before it, as far as that says who has to be told of it."""
        if filed.in_visit:
            ops = (self.entry(filed.op["visit"]) or {"ops": []})["ops"]
            late = bool(ops) and ops[-1]["offset"] >= filed.record.offset
            filed.before = [op for op in ops if op["offset"] < filed.record.offset] if late else ops
        elif filed.filed:
            filed.parties = self.search.devices_of(*filed.subject)
        return filed

    def flush(self) -> None:
        """Write every changed page, then the checkpoint.

        Raises:
            OSError: the disk did not take it; the journal still holds everything.
        """
        with self.lock:
            self._view_cache.flush()
            self._unwritten = 0

    def _flush_when_idle(self) -> None:
        while not self._ended.wait(IDLE_S / 2):
            with self.lock:
                if self._unwritten and time.monotonic() - self._last_filed < IDLE_S:
                    continue
                if self._unwritten:
                    self._flush_or_say()
            try:
                self.search.warm(self._ended)
            except Exception:  # the pages still have to be written, whatever a search will trip over
                # Whoever searches will be told; here nobody asks.
                log.exception("the register could not be made ready")

    @property
    def journal(self) -> Journal:
        """The open journal, to be copied or counted; `file` alone writes it [Journal]."""
        return self._journal

    def make_again(self, name: str) -> None:
        """Make one page from the whole journal; what was on it is let go."""
        with self.lock:
            self._view_cache.replace(self.rebuilt(name))
            self.search.forget(name)

    def made_anew(self, work: Callable[[], object], watch: Watch | None = None) -> None:
        """Let somebody change the files while nobody reads; where no checkpoint is left, pages are made anew."""
        with self.lock:
            self._view_cache.forget()
            self.search.forget()
            self.left_out.clear()
            self._journal.close()
            try:
                work()
            finally:
                self._journal = Journal(self.folder, self.floor_bytes)
                self.erased = Erasures(self.folder)
                self._catch_up(watch)

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Nobody else files or reads meanwhile, so that what was looked up still holds when it is filed."""
        with self.lock:
            if self._view_cache.complete != self._journal.size:
                # An earlier filing broke off between the journal and its pages: nothing is looked up before they agree.
                self._view_cache.close()
                self.search.forget()
                self._catch_up()
            yield

    def file(
        self, entries: list[tuple[int, dict[str, Any], bytes]], judged: dict[str, FiledRecord] | None = None
    ) -> None:
        """File lines with what was answered: one fsync of the journal, then the pages.

        Args:
            entries: (received [ms since 1970], result, op line without its line feed) each [list]
            judged: operations among them that the caller has taken apart already, by their ids [FiledRecord]

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
                self._enter(FiledRecord(entered, self.kinds) if known is None else known.placed(entered))
            self._last_filed = time.monotonic()
            if self._unwritten >= UNWRITTEN_MOST:
                self._flush_or_say()

    def _flush_or_say(self) -> None:
        """What is filed stays filed even where the disk takes no page now; it is asked again after a while."""
        if time.monotonic() < self._write_again:
            return
        try:
            self.flush()
        except OSError:
            self._write_again = time.monotonic() + AGAIN_S
            log.exception("the pages could not be written now; the journal holds all")

    def lookup(self, op_id: str) -> dict[str, Any] | None:
        """What was first answered for an operation [result], or None where it is not here."""
        with self.lock:
            return self._result(self._view_cache.page(day_page(op_id)).table("ops").get(op_id))

    def lookup_line(self, digest: str) -> dict[str, Any] | None:
        """What was first answered for a line that is found by its bytes alone [result], or None."""
        with self.lock:
            return self._result(self._view_cache.page(digest_page(digest)).table("lines").get(digest))

    def _result(self, place: Entry | None) -> dict[str, Any] | None:
        return None if place is None else self._journal.read(place["offset"], place["length"]).result

    def entry(self, visit_id: str) -> Entry | None:
        """A visit's entry: opened, ops, heads, stand_ins, summary [JSON object], or None. To be read, not changed."""
        with self.lock:
            return self._view_cache.page(day_page(visit_id)).table("visits").get(visit_id)

    def table(self, page: str, name: str) -> dict[str, Entry]:
        """A table of a page by its key. To be read while `lock` is held, not changed."""
        return self._view_cache.page(page).table(name)

    def page_names(self, folder: str) -> list[str]:
        """The names of all pages in a folder of them, on disk or open, in order [list of texts]."""
        return self._view_cache.names(folder)

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
            return self._view_cache.page(card_page(what, identifier)).table("cards").get(identifier)

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
        return [FiledRecord(self._journal.read(place["offset"], place["length"]), self.kinds).op for place in places]

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
            page = self._view_cache.page(f"days/{day.isoformat()}")
            found = []
            for visit_id in list(page.table("started")):
                started_at = ((self.entry(visit_id) or {}).get("summary") or {}).get("started_at")
                if started_at is not None and local_day_page(started_at) == page.name:
                    found.append((started_at, visit_id))
            return [visit_id for _, visit_id in sorted(found)]
