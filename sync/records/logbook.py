"""The logbook of one folder: takes in what was judged, finds it again, and answers for visits, days and devices.

Nothing here judges an operation. The journal is the truth, the views are what people query and can be made from it.
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

from sync.errors import LaybyError
from sync.isolation import Odd, apart
from sync.kernel import fold
from sync.kernel.books import Rulebook
from sync.kernel.operation import Op
from sync.kernel.visit import Visit
from sync.records import change_feed, erasure, posting
from sync.records.change_feed import Feed
from sync.records.erasure import Erasures
from sync.records.heads import Heads
from sync.records.journal import FLOOR_BYTES, Journal, Place, Record, Watch, framed
from sync.records.record import FiledRecord, local_day
from sync.records.safe_files import FolderLock, sync_folders
from sync.records.search import Search
from sync.records.view_cache import ViewCache
from sync.records.views import View, card_view, day_view, digest_view
from sync.wire.results import Result

# So many postings may wait for their views to be written; a start after a crash makes that many again.
UNWRITTEN_MOST = 5000
IDLE_S = 2.0
# After views could not be written the disk is left alone for so long, so that it is not asked at every filing.
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
        rulebook: all books [Rulebook]
        floor_bytes: room the disk must keep free [bytes]
        patience_s: how long to wait for another holder of the folder [s]

    Raises on entry:
        FolderBusy: another process works on the folder.
    """

    def __init__(
        self, folder: Path, rulebook: Rulebook, floor_bytes: int = FLOOR_BYTES, patience_s: float = 0
    ) -> None:
        self.folder = Path(folder)
        self.rulebook = rulebook
        self.kinds = rulebook["kinds"]
        self.patience_s, self.floor_bytes = patience_s, floor_bytes
        self._folder_lock = FolderLock(self.folder)
        self.lock = threading.RLock()
        self._view_cache = ViewCache(self.folder, lambda: self._journal.size, self.rebuilt)
        self._unwritten = 0
        self._last_filed = 0.0
        self._write_again = 0.0
        self._ended = threading.Event()
        # Where records start that could not be entered on their views since this process began [bytes].
        self.left_out: set[int] = set()
        self.search = Search(self.lock, self._view_cache)

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
        """Write the views and let the folder go; harmless when called twice."""
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
        """Enter what the journal holds beyond the views, and set an unfinished last write aside.

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

    def rebuilt(self, name: str) -> View:
        """A view made from the whole journal [View]."""
        view = View(name)
        for record in self._journal.records():
            apart(_place(record), partial(self._post_on, view, FiledRecord(record, self.kinds)), OSError)
        return view

    def _post_on(self, view: View, filed: FiledRecord) -> None:
        feed = self.feed_of(filed) if view.name.startswith("changes/") else {}
        if view.name in posting.views_of(filed, feed):
            posting.post(view, filed, feed)

    def _enter(self, filed: FiledRecord) -> None:
        """Post a record to its views. Until all have it, a view that is closed meanwhile must not claim to cover it."""
        record, feed = filed.record, self.feed_of(filed)
        self._view_cache.complete = record.offset
        for name in posting.views_of(filed, feed):
            view = self._view_cache.view(name)
            if record.offset >= view.covers:
                posting.post(view, filed, feed)
                self._unwritten += 1
                self.search.forget(name)
        self._view_cache.complete = record.offset + record.length

    def feed_of(self, filed: FiledRecord) -> Feed:
        """What each device has to be told because of a record, by device [FeedItem each]."""
        if filed.visit is not None:
            heads = self.visit_heads(filed.visit)
            ops = heads["ops"] if heads else []
            is_late = bool(ops) and ops[-1]["offset"] >= filed.record.offset
            before = [op for op in ops if op["offset"] < filed.record.offset] if is_late else ops
            return change_feed.feed_of_visit(filed, before)
        return change_feed.feed_of_card(filed, self.search.devices_of(*filed.subject)) if filed.filed else {}

    def flush(self) -> None:
        """Write every changed view, then the checkpoint.

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
            except Exception:  # the views still have to be written, whatever a search will trip over
                # Whoever searches will be told; here nobody asks.
                log.exception("the register could not be made ready")

    @property
    def journal(self) -> Journal:
        """The open journal, to be copied or counted; `file` alone writes it [Journal]."""
        return self._journal

    def make_again(self, name: str) -> None:
        """Make one view from the whole journal; what was on it is let go."""
        with self.lock:
            self._view_cache.replace(self.rebuilt(name))
            self.search.forget(name)

    def made_anew(self, work: Callable[[], bool | None], watch: Watch | None = None) -> None:
        """Let somebody change the files while nobody reads; where no checkpoint is left, views are made anew."""
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
                # An earlier filing broke off between the journal and its views: nothing is looked up before they agree.
                self._view_cache.close()
                self.search.forget()
                self._catch_up()
            yield

    def file(self, answered: list[tuple[int, Result, bytes]], judged: dict[str, FiledRecord] | None = None) -> None:
        """File lines with what was answered: one fsync of the journal, then the views.

        Args:
            answered: (received [ms since 1970], result, op line without its line feed) each [list]
            judged: operations among them that the caller has taken apart already, by their ids [FiledRecord]

        Raises:
            DiskFull, JournalFailed: nothing was filed.
        """
        if not answered:
            return
        with self.writing():
            records = [framed(*line) for line in answered]
            offsets = self._journal.append(records)
            for offset, framed_record, (received_ms, result, line) in zip(offsets, records, answered, strict=True):
                record = Record(offset, len(framed_record), received_ms, result, line)
                filed = judged.get(result["id"]) if judged and result["id"] else None
                self._enter(FiledRecord(record, self.kinds) if filed is None else filed.placed(record))
            self._last_filed = time.monotonic()
            if self._unwritten >= UNWRITTEN_MOST:
                self._flush_or_say()

    def _flush_or_say(self) -> None:
        """What is filed stays filed even where the disk takes no view now; it is asked again after a while."""
        if time.monotonic() < self._write_again:
            return
        try:
            self.flush()
        except OSError:
            self._write_again = time.monotonic() + AGAIN_S
            log.exception("the pages could not be written now; the journal holds all")

    def lookup(self, op_id: str) -> Result | None:
        """What was first answered for an operation [Result], or None where it is not here."""
        with self.lock:
            return self._result(self._view_cache.view(day_view(op_id)).ops.get(op_id))

    def lookup_line(self, digest: str) -> Result | None:
        """What was first answered for a line that is found by its bytes alone [Result], or None."""
        with self.lock:
            return self._result(self._view_cache.view(digest_view(digest)).lines.get(digest))

    def _result(self, place: Place | None) -> Result | None:
        return None if place is None else self._journal.read(place["offset"], place["length"]).result

    def visit_heads(self, visit_id: str) -> Heads | None:
        """The heads of a visit [Heads], or None where nothing of it is filed. To be read, not changed."""
        with self.lock:
            return self._view_cache.view(day_view(visit_id)).visits.get(visit_id)

    def card_heads(self, what: str, identifier: str) -> Heads | None:
        """The heads of what was filed beside the visits for a vehicle or customer [Heads], or None."""
        with self.lock:
            return self._view_cache.view(card_view(what, identifier)).cards.get(identifier)

    def view(self, name: str) -> View:
        """A view by its name. To be read while `lock` is held, not changed [View]."""
        return self._view_cache.view(name)

    def view_names(self, folder: str) -> list[str]:
        """The names of all views in a folder of them, on disk or open, in order [list of texts]."""
        return self._view_cache.names(folder)

    def line(self, place: Place) -> bytes:
        """The op line at a place, as journalled, without its line feed [bytes]."""
        with self.lock:
            return self._journal.read(place["offset"], place["length"]).line

    def check_of(self, offset: int) -> tuple[int, str]:
        """The length and the check of the record at an offset, (0, "00000000") where none begins [bytes, hex]."""
        with self.lock:
            return self._journal.check_of(offset)

    def ops(self, visit_id: str) -> list[Op]:
        """The operations filed for a visit, in the order they came in.

        Args:
            visit_id: the visit [UUID version 7]

        Returns:
            the operations, [] for a visit that is not here [Op each]

        Raises:
            JournalDamaged: one of them does not read back.
        """
        with self.lock:
            return self._ops_of(self.visit_heads(visit_id))

    def card_ops(self, what: str, identifier: str) -> list[Op]:
        """The operations beside the visits for a vehicle or customer, in the order they came in [Op each]."""
        with self.lock:
            return self._ops_of(self.card_heads(what, identifier))

    def _ops_of(self, heads: Heads | None) -> list[Op]:
        places = [] if heads is None else heads["ops"]
        return [FiledRecord(self._journal.read(place["offset"], place["length"]), self.kinds).op for place in places]

    def visit(self, visit_id: str) -> Visit:
        """The visit that its filed operations amount to [Visit].

        Raises:
            UnknownVisit: nothing of it is filed here.
        """
        ops = self.ops(visit_id)
        if not ops:
            raise UnknownVisit(visit=visit_id)
        return fold.fold(ops, self.kinds)

    def visits_on(self, day: date) -> list[str]:
        """The visits that started on a local day, earliest first [list of UUID version 7]."""
        with self.lock:
            starts = []
            for visit_id in list(self._view_cache.view(f"days/{day.isoformat()}").started):
                heads = self.visit_heads(visit_id)
                started_at = heads["summary"].get("started_at") if heads else None
                if isinstance(started_at, str) and local_day(started_at) == day.isoformat():
                    starts.append((started_at, visit_id))
            return [visit_id for _, visit_id in sorted(starts)]
