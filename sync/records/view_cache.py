"""The cache of views: a few of them open in memory, the others with the store, and how far all of them reach.

Nothing here knows what stands on a view or how one is made from the records; whoever has the cache says so.
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

log = logging.getLogger("layby.views")


class ViewCache:
    """Some views of a store. It has no lock of its own: whoever calls holds the logbook's.

    Args of the constructor:
        store: the records that the views are made of [Store]
        views: where they are kept [Views]
        make: a view from the records, where its own cannot be used [function from its name to View]
        mend: takes off a view what does not read back any more [function of View]
    """

    def __init__(
        self, store: Store, views: Views, make: Callable[[str], View], mend: Callable[[View], None]
    ) -> None:
        self.store = store
        self.views = views
        self.make = make
        self.mend = mend
        # The latest record that stands on all its views.
        self.complete: Mark = START
        self._open: OrderedDict[str, View] = OrderedDict()

    def stored_complete(self) -> Mark:
        """The latest record that all kept views have; START where that cannot be told, or is of other records."""
        mark = self.views.complete()
        if mark != START and not self._is_ours(mark):
            log.warning("the views are of another journal; they are compared with this one")
            self.views.forget_complete()
            return START
        return mark

    def _is_ours(self, mark: Mark) -> bool:
        """Whether a record is the one that it was when a view was written. A folder that was copied while it was in use
        may hold views that know more than its journal, which has grown otherwise since."""
        return mark.number == NONE or self.store.check_of(mark.number) == mark.check

    def names(self, folder: str) -> list[str]:
        """The names of all views in a folder of them, kept or open, in order [texts]."""
        return sorted({*self.views.names(folder), *(name for name in self._open if name.rpartition("/")[0] == folder)})

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
        # What the store gives back is what it was given, tables of these types.
        view = View(name, stored.covers, cast(Tables, stored.tables))
        self.mend(view)
        return view

    def _let_go(self) -> None:
        """Close the view that was not needed for longest."""
        name, oldest = next(iter(self._open.items()))
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
        """Let a view made anew stand for the one of its name."""
        self._open[view.name] = view
        view.changed = True

    def forget(self) -> None:
        """Let all open views go as they are, written or not; they are read or made again."""
        self._open.clear()

    def _write(self, view: View) -> None:
        view.covers = self.complete
        # What the tables hold is JSON through and through.
        self.views.write(view.name, StoredView(view.covers, cast(StoredTables, view.tables)))
        view.changed = False

    def flush(self) -> None:
        """Write every changed view, then how far all reach.

        Raises:
            OSError: the disk did not take it; the records still hold everything.
        """
        for view in [view for view in self._open.values() if view.changed]:
            self._write(view)
        self.views.set_complete(self.complete)
