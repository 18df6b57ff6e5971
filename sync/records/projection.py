"""The projection: the views of a store's records, and the posting of each record to every view that shows it.

Nothing here judges or appends a record. A second projection can be filled beside the one in use.
"""

from __future__ import annotations

import logging
from collections.abc import Container, Iterable
from contextlib import AbstractContextManager
from functools import partial

from sync.isolation import Odd, apart
from sync.kernel.books import KindsBook
from sync.records import change_feed, posting
from sync.records.change_feed import Feed
from sync.records.heads import HANDED_TO, Heads
from sync.records.kept_search import KeptSearch
from sync.records.record import FiledRecord
from sync.records.search import Search
from sync.records.store.interface import (
    START,
    Damage,
    Record,
    RecordDamaged,
    Store,
    Views,
    Watch,
)
from sync.records.striking import Gone, strike
from sync.records.view_cache import ViewCache
from sync.records.views import View, card_view, day_view

AnySearch = Search | KeptSearch

log = logging.getLogger("layby.views")


def _named(record: Record) -> str:
    return f"record {record.number} of the journal"


class Unreadable:
    """The numbers of records that don't read back: those within the store's damage, and those a reader came upon."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._damage: list[Damage] = []
        self._single: set[int] = set()

    def __contains__(self, number: object) -> bool:
        return number in self._single or any(number in stretch for stretch in self._damage)

    def __bool__(self) -> bool:
        return bool(self._single or self._damage)

    def add(self, number: int) -> bool:
        """Note one more number; returns whether it was new [bool]."""
        is_new = number not in self
        self._single.add(number)
        return is_new

    def look(self) -> bool:
        """Take in what the store knows by now; returns whether that is more than before [bool]."""
        damage = self._store.damage
        grown = damage != self._damage
        self._damage = damage
        return grown and bool(damage)


class Projection:
    """Views of one store, with each record entered in its turn. The caller holds `lock`.

    Args of the constructor:
        store: the records [Store]
        views: where the views are kept [Views]
        kinds: the kinds of operations [KindsBook]
        lock: held while views are read or changed [lock]
    """

    def __init__(
        self, store: Store, views: Views, kinds: KindsBook, lock: AbstractContextManager[bool | None]
    ) -> None:
        self.store = store
        self.kinds = kinds
        self.lock = lock
        self.unreadable = Unreadable(store)
        # Records that are being erased: no view that is made meanwhile may show them again.
        self.going: Container[int] = ()
        # Numbers of records that couldn't be entered on their views since this process began.
        self.left_out: set[int] = set()
        self.unwritten = 0
        self._is_anew = False
        self.cache = ViewCache(store, views, self.made, self._mended)
        register = views.register
        self.search: AnySearch = (
            Search(lock, self.cache) if register is None else KeptSearch(lock, self.cache, register))

    # Entering -------------------------------------------------------------------------------------------------------

    def catch_up(self, watch: Watch | None = None) -> None:
        """Enter what the store holds beyond the views.

        A record that can't be entered is logged and left out; the following ones are still entered.
        """
        start = self.cache.stored_complete()
        self.cache.complete = start
        # Every record comes by again, so a view that can't be used begins empty.
        self._is_anew = start == START
        self._enter_all(self.store.records(start.number, watch))
        self._is_anew = False
        self.search.settle()

    def go_on(self) -> None:
        """Enter what has been appended since, for example while the rest was entered."""
        self._enter_all(self.store.records(self.cache.complete.number))
        self.search.settle()

    def _enter_all(self, records: Iterable[Record]) -> None:
        for record in records:
            if record.number <= self.cache.complete.number:
                continue
            if isinstance(apart(_named(record), partial(self.enter, FiledRecord(record, self.kinds)), OSError), Odd):
                self.left_out.add(record.number)
                self.cache.complete = record.mark

    def enter(self, filed: FiledRecord) -> None:
        """Post a record to its views; until all have it, a view that is closed meanwhile doesn't claim to cover it."""
        number = filed.record.number
        feed = self.feed_of(filed)
        for name in posting.views_of(filed, feed, self.store.stretch):
            view = self.cache.view(name)
            if number > view.covers.number:
                posting.post(view, filed, feed)
                self.unwritten += 1
            self.search.entered(name, filed)
        self.cache.complete = filed.record.mark

    def made(self, name: str) -> View:
        """A view made from all records [View]; an empty one while all of them are being entered."""
        view = View(name)
        if self._is_anew:
            return view
        for record in self.store.records():
            if record.number not in self.going:
                apart(_named(record), partial(self._post_on, view, FiledRecord(record, self.kinds)), OSError)
        return view

    def _post_on(self, view: View, filed: FiledRecord) -> None:
        feed = self.feed_of(filed) if view.name.startswith("changes/") else {}
        if view.name in posting.views_of(filed, feed, self.store.stretch):
            posting.post(view, filed, feed)

    def flush(self) -> None:
        """Write every changed view, and how far all reach.

        Raises:
            OSError: the disk didn't take it; the records still hold everything.
        """
        # First: whoever starts from these views takes it that what they show is found.
        self.search.settle()
        self.cache.flush()
        self.unwritten = 0

    # What is gone ---------------------------------------------------------------------------------------------------

    def strike(self, view: View, gone: Gone) -> None:
        """Remove what is gone from a view; what also rests on other records is made from those again."""
        for number in strike(view, gone):
            try:
                filed = FiledRecord(self.store.read(number), self.kinds)
            except RecordDamaged:
                self.unreadable.add(number)
                continue
            apart(_named(filed.record), partial(posting.post, view, filed, {}), OSError)
        if view.changed:
            self.search.forget(view.name)

    def strike_all(self, names: list[str], gone: Gone) -> None:
        """Remove what is gone from some views and the search, and keep it out of every view made until `struck`."""
        self.going = gone.numbers
        for name in names:
            self.strike(self.cache.view(name), gone)
        self.search.remove(gone.visits)

    def struck(self, gone: Gone) -> None:
        """What is gone is gone from the records too."""
        self.going = ()
        # Another service may have put it in again out of views that it had read before.
        self.search.remove(gone.visits)

    def _mended(self, view: View) -> None:
        if self.unreadable:
            self.strike(view, Gone(self.unreadable))

    def work_round(self) -> None:
        """Remove what doesn't read back from the open views; the others are corrected as they are opened."""
        for view in self.cache.open_views():
            self.strike(view, Gone(self.unreadable))

    # Reading --------------------------------------------------------------------------------------------------------

    def visit_heads(self, visit_id: str) -> Heads | None:
        """The heads of a visit [Heads], or None if nothing of it is filed. For reading, not for changing."""
        return self.cache.view(day_view(visit_id)).visits.get(visit_id)

    def card_heads(self, what: str, identifier: str) -> Heads | None:
        """The heads of what was filed beside the visits for a vehicle or customer [Heads], or None."""
        return self.cache.view(card_view(what, identifier)).cards.get(identifier)

    def feed_of(self, filed: FiledRecord) -> Feed:
        """What each device has to be told because of a record, by device [FeedItem each]."""
        note = filed.note
        if note is not None:
            visit = note["visit"]
            return change_feed.feed_of_note(filed, note, None if visit is None else self.visit_heads(visit))
        if filed.visit is not None:
            heads = self.visit_heads(filed.visit)
            ops, notes = (heads["ops"], heads["notes"]) if heads else ([], [])
            number = filed.record.number
            is_late = bool(ops) and ops[-1]["number"] >= number
            before = [op for op in ops if op["number"] < number] if is_late else ops
            handed = heads["summary"].get(HANDED_TO) if heads else None
            return change_feed.feed_of_visit(
                filed, before, [one for one in notes if one < number], None if handed is None else str(handed))
        return change_feed.feed_of_card(filed, self.search.devices_of(*filed.subject)) if filed.filed else {}
