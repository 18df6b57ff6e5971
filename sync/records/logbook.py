"""The logbook: takes in what was judged, finds it again, and answers for visits, days and devices.

Nothing here judges an operation. The store's records are the truth; the views are what people query, and can be made
from the records.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from datetime import date
from pathlib import Path

from sync.errors import LaybyError
from sync.kernel import fold
from sync.kernel.books import Rulebook
from sync.kernel.json_tree import JsonObject
from sync.kernel.operation import Op
from sync.kernel.visit import Visit
from sync.records import erasure, posting
from sync.records.attention import Attention
from sync.records.embedded.journal import FLOOR_BYTES
from sync.records.embedded.store import EmbeddedStore
from sync.records.erasures import Erased
from sync.records.heads import Heads
from sync.records.locks import RECORDS, Ranked, claimed
from sync.records.neighbours import take_in
from sync.records.projection import AnySearch, Projection
from sync.records.record import FiledRecord, local_day
from sync.records.store.files import Files, Holds
from sync.records.store.interface import NONE, Entry, Record, RecordDamaged, Store, Watch
from sync.records.store.note import Kind, entry_of
from sync.records.striking import Gone
from sync.records.upkeep import Upkeep
from sync.records.view_cache import VIEWS_OPEN
from sync.records.views import ERASED_VIEW, LOST_VIEW, Place, View, day_view, digest_view
from sync.wire.results import Result

# This many postings may wait for their views to be written; a start after a crash makes that many again.
UNWRITTEN_MOST = 5000
IDLE_S = 2.0
# After views couldn't be written, the disk is left alone for this long, so that it isn't tried at every filing.
AGAIN_S = 60.0

log = logging.getLogger("layby.logbook")


class UnknownVisit(LaybyError):
    """No operation of that visit is filed here."""

    code = "unknown_visit"


class Logbook:
    """One desk's records. A context manager: it holds the folder's lock from entry to exit.

    Every public method may be called from several threads; code that reads, judges and files in one go does so inside
    `writing()`.

    Args of the constructor:
        folder: where the records are; created if missing [path]
        rulebook: all books [Rulebook]
        floor_bytes: room the disk must keep free [bytes]
        patience_s: how long to wait for another holder of the folder [s]
        open_store: opens the store; the folder's own unless another is given [function to Store]

    Raises on entry:
        FolderBusy: another process works on the folder.
    """

    def __init__(
        self, folder: Path, rulebook: Rulebook, floor_bytes: int = FLOOR_BYTES, patience_s: float = 0,
        open_store: Callable[[], Store] | None = None,
    ) -> None:
        self.folder = Path(folder)
        self.rulebook = rulebook
        self.kinds = rulebook["kinds"]
        self.floor_bytes = floor_bytes
        self.lock = Ranked(RECORDS)
        self.attention = Attention()
        self._open_store = open_store or (lambda: EmbeddedStore(self.folder, floor_bytes, patience_s))
        self._last_filed, self._write_again, self._upkeep = 0.0, 0.0, Upkeep(self._keep_up)

    def __enter__(self) -> Logbook:
        self._store = self._open_store()
        try:
            self._projection = Projection(self._store, self._store.views, self.kinds, self.lock)
            with self.lock:
                self._projection.catch_up()
                self._store.settle_end()
                self._look_for_damage()
            if self._store.refusal is None:
                erasure.finish_left(self)
        except BaseException:
            self._store.close(clean=False)
            raise
        if self._store.is_shared:
            self.lock.entered = self._see_others
        self._upkeep.start()
        return self

    def __exit__(self, *raised: object) -> None:
        self.close()

    def close(self) -> None:
        """Write the views and release the folder; harmless if called twice."""
        if self._upkeep.is_over:
            return
        self._upkeep.end()
        with ExitStack() as held:
            try:
                held.enter_context(self.lock)
                self.flush()
            except OSError:
                log.exception("the views could not be written; the records hold all, the next start makes them again")
            self._store.close(clean=self._store.refusal is None)

    # Behind the work of the day -------------------------------------------------------------------------------------

    def flush(self) -> None:
        """Write every changed view, and how far all reach.

        Raises:
            OSError: the disk didn't take it; the journal still holds everything.
        """
        with self.lock:
            if self._store.refusal is None:
                self._store.note_end()
                self._projection.flush()

    def _see_others(self) -> None:
        take_in(self._store, self._projection, self.attention)

    def _keep_up(self, is_enough: Callable[[], bool]) -> None:
        """Write the views once nobody files, prepare the search, and read all records once."""
        with self.lock:
            if self._projection.unwritten and time.monotonic() - self._last_filed < IDLE_S:
                return
            if self._projection.unwritten:
                self._flush_or_say()
        self.search.warm(is_enough)
        if not self.attention.is_whole:
            self.look_through(is_enough)

    def look_through(self, is_enough: Callable[[], bool] = lambda: False) -> bool:
        """Read every record once, so that whatever doesn't read back is named and worked around.

        Args:
            is_enough: asked now and then whether to stop [function to bool]

        Returns:
            whether all were read [bool]
        """
        if not self.attention.read(self._store.records(), is_enough):
            return False
        with self.lock:
            self._look_for_damage()
        return True

    def _look_for_damage(self) -> None:
        if self._projection.unreadable.look():
            self._projection.work_round()

    def _flush_or_say(self) -> None:
        """What is filed stays filed even if the disk takes no view now; it is tried again after a while."""
        if time.monotonic() < self._write_again:
            return
        try:
            self.flush()
        except OSError as error:
            self._write_again = time.monotonic() + AGAIN_S
            log.warning("the views could not be written now; the journal holds all: %s", error)

    # The parts ------------------------------------------------------------------------------------------------------

    @property
    def store(self) -> Store:
        """The open store, to be read or counted; only `file` and `note` append to it [Store]."""
        return self._store

    @property
    def files(self) -> Files:
        """What lies beside the records [Files]."""
        return self._store.files

    @property
    def search(self) -> AnySearch:
        """The register of visits [Search]."""
        return self._projection.search

    @property
    def left_out(self) -> set[int]:
        """The numbers of records that couldn't be entered on their views since this process began."""
        return self._projection.left_out

    @property
    def last_lost(self) -> int:
        """The largest number of a record that doesn't read back, or was given up; NONE if there is none."""
        with self.lock:
            given_up = [place["number"] for place in self.view(LOST_VIEW).lost.values()]
            return max([NONE, *given_up, *(one.end - 1 for one in self._store.damage)])

    @property
    def erased(self) -> Erased:
        """What was ever erased here, as of now [Erased]."""
        with self.lock:
            view = self.view(ERASED_VIEW)
            return Erased(view.erasures, view.erased)

    # Views changed as a whole ---------------------------------------------------------------------------------------

    def make_again(self, name: str) -> None:
        """Make one view from all records; its old content is dropped."""
        with self.lock:
            self._projection.cache.replace(self._projection.made(name))
            self.search.made_again(name)

    def made_beside(self, watch: Watch | None = None) -> int:
        """Make all views again beside those in use, and let them take over once they are complete.

        Others file and read meanwhile; they wait only while what they filed is entered too.

        Args:
            watch: called with how far it is and how far it has to go [function]

        Returns:
            how many views there are now [count]
        """
        area = self._store.scratch_views()
        beside = Projection(self._store, area, self.kinds, threading.RLock())
        beside.going = self._projection.going
        beside.unreadable.look()
        beside.catch_up(watch)
        beside.flush()
        with self.lock, self._store.alone():
            beside.go_on()
            beside.flush()
            self._store.adopt(area)
            self._projection = Projection(self._store, self._store.views, self.kinds, self.lock)
            self._projection.going = beside.going
            self._projection.left_out |= beside.left_out
            self._projection.catch_up()
            self._look_for_damage()
            self.flush()
            return self._store.views.count()

    def strike(self, names: list[str], gone: Gone) -> None:
        """Remove what is gone from some views, and keep it out of every view made from now on."""
        for first in range(0, len(names), VIEWS_OPEN):
            with self.writing():
                self._projection.strike_all(names[first : first + VIEWS_OPEN], gone)
                self._projection.cache.supersede()
        self.flush()

    def struck(self, gone: Gone) -> None:
        """What was struck is gone from the records too."""
        with self.lock:
            self._projection.struck(gone)

    # Filing ---------------------------------------------------------------------------------------------------------

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Nobody else files or reads meanwhile, so that what was looked up still holds when it is filed."""
        with self.lock, self._store.alone():
            self._see_others()
            yield

    def claim(self, lock: Ranked) -> AbstractContextManager[Holds | None]:
        """Nobody else holds this lock meanwhile, in any process over the same records; see `Store.claim`."""
        return claimed(lock, self._store.claim)

    def file(self, answered: list[Entry], judged: dict[str, FiledRecord] | None = None) -> None:
        """File lines with their answers: durably, then on the views.

        Args:
            answered: the lines, each without its line feed [Entry each]
            judged: operations among them that the caller has already taken apart, by their ids [FiledRecord]

        Raises:
            DiskFull, JournalFailed: nothing was filed.
        """
        if not answered:
            return
        with self.writing():
            for record in self._store.append(answered):
                self.attention.see(record)
                filed = judged.get(record.result["id"]) if judged and record.result["id"] else None
                self._projection.enter(FiledRecord(record, self.kinds) if filed is None else filed.placed(record))
            self.search.settle()
            self._last_filed = time.monotonic()
            if self._projection.unwritten >= UNWRITTEN_MOST:
                self._flush_or_say()

    def note(self, kind: Kind, visit: str | None, body: JsonObject, at_ms: int) -> None:
        """Note what the desk did, once it is safe on disk.

        Args:
            kind: what it reports [code]
            visit: which visit it is about, None if none [UUID version 7 or None]
            body: what it says [JSON object]
            at_ms: when [ms since 1970]

        Raises:
            DiskFull, JournalFailed: nothing was noted.
        """
        self.file([entry_of(kind, visit, body, at_ms)])

    def check_promises(self) -> None:
        """Check that what is on file may be promised to the caller: DiskFull or JournalFailed if not."""
        if self._store.refusal is not None:
            raise self._store.refusal

    # Reading --------------------------------------------------------------------------------------------------------

    def lookup(self, op_id: str) -> Result | None:
        """What was first answered for an operation [Result]; None if it isn't here or doesn't read back."""
        with self.lock:
            return self._result(self.view(day_view(op_id)).ops.get(op_id))

    def lookup_line(self, digest: str) -> Result | None:
        """What was first answered for a line that is stored under its hash alone [Result], or None."""
        with self.lock:
            return self._result(self.view(digest_view(digest)).lines.get(digest))

    def _result(self, place: Place | None) -> Result | None:
        record = None if place is None else self.record(place["number"])
        return None if record is None else record.result

    def record(self, number: int) -> Record | None:
        """One record; None if it doesn't read back, which is worked around from then on [Record]."""
        with self.lock:
            try:
                return self._store.read(number)
            except RecordDamaged as error:
                if self._projection.unreadable.add(number):
                    log.error("%s; it is left out until its phone brings it again", error)
                    self._projection.work_round()
                return None

    def visit_heads(self, visit_id: str) -> Heads | None:
        """The heads of a visit [Heads], or None if nothing of it is filed. For reading, not for changing."""
        with self.lock:
            return self._projection.visit_heads(visit_id)

    def card_heads(self, what: str, identifier: str) -> Heads | None:
        """The heads of what was filed beside the visits for a vehicle or customer [Heads], or None."""
        with self.lock:
            return self._projection.card_heads(what, identifier)

    def view(self, name: str) -> View:
        """A view by its name. For reading while `lock` is held, not for changing [View]."""
        return self._projection.cache.view(name)

    def view_names(self, folder: str) -> list[str]:
        """The names of all views in one of their folders, kept or open, in order [list of texts]."""
        return self._projection.cache.names(folder)

    def views_of(self, filed: FiledRecord) -> set[str]:
        """The names of the views that show a record [texts]."""
        return posting.views_of(filed, self._projection.feed_of(filed), self._store.stretch)

    def ops(self, visit_id: str) -> list[Op]:
        """The operations of a visit [UUIDv7] in order, as far as they read back; [] if it isn't here [Op each]."""
        with self.lock:
            return self._ops_of(self.visit_heads(visit_id))

    def card_ops(self, what: str, identifier: str) -> list[Op]:
        """The operations beside the visits for a vehicle or customer, in the order they came in [Op each]."""
        with self.lock:
            return self._ops_of(self.card_heads(what, identifier))

    def _ops_of(self, heads: Heads | None) -> list[Op]:
        records = [self.record(op["number"]) for op in ([] if heads is None else list(heads["ops"]))]
        return [FiledRecord(record, self.kinds).op for record in records if record is not None]

    def visit(self, visit_id: str) -> Visit:
        """The visit that results from its filed operations [Visit].

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
            for visit_id in list(self.view(f"days/{day.isoformat()}").started):
                heads = self.visit_heads(visit_id)
                started_at = heads["summary"].get("started_at") if heads else None
                if isinstance(started_at, str) and local_day(started_at) == day.isoformat():
                    starts.append((started_at, visit_id))
            return [visit_id for _, visit_id in sorted(starts)]
