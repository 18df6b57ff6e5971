"""The cache of views: a few of them open in memory, the others in the store, and how far all of them reach.

Nothing here knows what a view shows or how one is made from the records; the owner of the cache says so.
"""

from __future__ import annotations

import logging
from collections import OrderedDict
from collections.abc import Callable
from typing import cast

from sync.records.store.interface import NONE, START, ForeignView, Mark, Store, StoredView, Views
from sync.records.store.interface import Tables as StoredTables
from sync.records.views import Tables, View

VIEWS_OPEN = 48
# Views of single phones are small. This many keep those of a hundred phones open that file in turn; with fewer, each
# filing would write one phone's views and read another's.
PHONES_VIEWS_OPEN = 256

log = logging.getLogger("layby.views")


class ViewCache:
    """Some views of a store. It has no lock of its own: the caller holds the logbook's.

    Args of the constructor:
        store: the records that the views are made from [Store]
        views: where they are kept [Views]
        make: makes a view from the records if its own can't be used [function from its name to View]
        mend: removes from a view what no longer reads back [function of View]
    """

    def __init__(
        self, store: Store, views: Views, make: Callable[[str], View], mend: Callable[[View], None]
    ) -> None:
        self.store = store
        self.views = views
        self.make = make
        self.mend = mend
        # The latest record that all its views have.
        self.complete: Mark = START
        self._open: OrderedDict[str, View] = OrderedDict()

    def stored_complete(self) -> Mark:
        """The latest record that all kept views have; START if that can't be told, or it is of other records."""
        mark = self.views.complete()
        if mark != START and not self._is_ours(mark):
            log.warning("the views are of another journal; they are compared with this one")
            self.views.forget_complete()
            return START
        return mark

    def _is_ours(self, mark: Mark) -> bool:
        """Whether a record is still the one it was when a view was written. A folder that was copied while in use may
        hold views that know more than its journal, which has grown differently since.
        """
        return mark.number == NONE or self.store.check_of(mark.number) == mark.check

    def names(self, folder: str) -> list[str]:
        """The names of all views in one of their folders, kept or open, in order [list of texts]."""
        return sorted({*self.views.names(folder), *(name for name in self._open if name.rpartition("/")[0] == folder)})

    def view(self, name: str) -> View:
        """A view by its name, read if it isn't open; an empty one if there is none yet [View]."""
        view = self._open.get(name)
        if view is None:
            view = self._open[name] = self._loaded(name)
            alike = [other for other in self._open if _is_of_phone(other) == _is_of_phone(name)]
            if len(alike) > (PHONES_VIEWS_OPEN if _is_of_phone(name) else VIEWS_OPEN):
                self._let_go(alike[0])
        self._open.move_to_end(name)
        return view

    def _loaded(self, name: str) -> View:
        try:
            stored = self.views.read(name)
        except ForeignView:
            return self.make(name)
        if stored is None:
            return View(name)
        if not self._is_ours(stored.covers):
            log.warning("view %s is of another journal; it is made again", name)
            self.views.forget_complete()
            return self.make(name)
        # The store returns what it was given: tables of these types.
        view = View(name, stored.covers, cast(Tables, stored.tables))
        self.mend(view)
        return view

    def _let_go(self, name: str) -> None:
        """Close a view, which is the one of its sort that hasn't been needed for the longest time."""
        oldest = self._open[name]
        try:
            if oldest.changed:
                self._write(oldest)
        except OSError:
            log.exception("view %s could not be written now and stays open", name)
        else:
            self._open.pop(name, None)

    def open_views(self) -> list[View]:
        """The views that are open [View each]."""
        return list(self._open.values())

    def replace(self, view: View) -> None:
        """Let a newly made view replace the one of its name."""
        self._open[view.name] = view
        view.changed = True

    def forget(self) -> None:
        """Drop all open views as they are, written or not; they are read or made again."""
        self._open.clear()

    def _write(self, view: View) -> None:
        self.views.write(view.name, self._stored(view))
        view.changed = False

    def _stored(self, view: View) -> StoredView:
        """A view as it is kept, which has every record up to now."""
        view.covers = self.complete
        # The content of the tables consists entirely of JSON.
        return StoredView(view.covers, cast(StoredTables, view.tables))

    def flush(self) -> None:
        """Write every changed view, then how far all reach.

        Raises:
            OSError: the disk didn't take it; the records still hold everything.
        """
        for view in [view for view in self._open.values() if view.changed]:
            self._write(view)
        self.views.set_complete(self.complete)

    def supersede(self) -> None:
        """Write every changed view and keep other services from overwriting it with what they have in memory.

        Raises:
            OSError: the disk didn't take it.
        """
        changed = [view for view in self._open.values() if view.changed]
        self.views.replace({view.name: self._stored(view) for view in changed})
        for view in changed:
            view.changed = False


def _is_of_phone(name: str) -> bool:
    """Whether a view has only what concerns one phone."""
    return name.startswith(("devices/", "changes/"))
