"""The search of a store that keeps a register: what it answers comes from there, and no month's view is read for it.

What records change is put into the register as they are entered, before their sender has an answer. So each service
finds at once what any of them filed.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from contextlib import AbstractContextManager

from sync.records import findable
from sync.records.record import FiledRecord
from sync.records.search import FOUND_MOST, devices_in
from sync.records.store.interface import NONE
from sync.records.store.register import Register, RegisterRow
from sync.records.view_cache import ViewCache
from sync.records.views import month_view
from sync.wire.results import VisitRow, VisitRows

# With more rows waiting than this, it is asked first which of them are there already.
_ASKED_FROM = 500


class KeptSearch:
    """What `Search` answers, out of a register, by the same rule.

    Args of the constructor:
        lock: the logbook's own lock; whoever enters, removes or settles holds it [lock]
        views: the logbook's views [ViewCache]
        register: the rows of its store [Register]
    """

    def __init__(self, lock: AbstractContextManager[bool | None], views: ViewCache, register: Register) -> None:
        self._lock = lock
        self._views = views
        self._register = register
        # Visits by the latest record that changed what finds them, and isn't known to be in the register.
        self._waiting: dict[str, int] = {}
        self._is_filled = False

    # Kept in step ---------------------------------------------------------------------------------------------------

    def forget(self, view: str | None = None) -> None:
        """Views were replaced: all that isn't in them yet is entered again. One that changed changes no row."""
        if view is None:
            self._waiting.clear()
            self._is_filled = False

    def warm(self, is_enough: Callable[[], bool]) -> None:
        """The register is ready at any time."""

    def entered(self, view: str, filed: FiledRecord) -> None:
        """A record was entered on a view; `settle` puts what it changed into the register."""
        if view.startswith("months/") and filed.visit is not None:
            self._waiting[filed.visit] = filed.record.number

    def settle(self) -> None:
        """Put into the register what was entered; fill it first if it never was, or views were made again.

        Raises:
            DatabaseAway: it couldn't be put in now; the next call tries again.
        """
        if self._is_filled and not self._waiting:
            return
        if not self._put():
            # One service fills it, and the others find it filled.
            with self._views.store.alone():
                if not self._put() and not self._fill():
                    return
        self._waiting.clear()
        self._is_filled = True

    def _put(self) -> bool:
        reach = self._register.reach() if len(self._waiting) > _ASKED_FROM else NONE
        if reach is None:
            return False
        late = ((number, self._row(visit)) for visit, number in self._waiting.items() if number > reach)
        return self._register.put([(number, row) for number, row in late if row is not None])

    def _row(self, visit: str) -> RegisterRow | None:
        name = month_view(visit)
        row = self._views.view(name).rows.get(visit)
        return None if row is None else findable.register_row(name, visit, row)

    def _fill(self) -> bool:
        months = self._views.names("months")
        return all(self._fill_month(name) for name in months) and self._register.filled(
            [findable.month_name(name) for name in months], self._views.complete.number)

    def _fill_month(self, name: str) -> bool:
        rows = self._views.view(name).rows.items()
        return self._register.fill(findable.month_name(name),
                                   [findable.register_row(name, visit, row) for visit, row in rows])

    def made_again(self, view: str) -> None:
        """A view was made again from the records; a month's visits have to be those of its view."""
        if view.startswith("months/"):
            self._fill_month(view)

    def remove(self, visits: Collection[str]) -> None:
        """Visits were erased: nothing of them stays in the register."""
        for visit in visits:
            self._waiting.pop(visit, None)
        self._register.remove(visits)

    # Asked ----------------------------------------------------------------------------------------------------------

    def find(self, text: str, most: int = FOUND_MOST) -> VisitRows:
        """Visits by plate, VIN, customer's name, or day; see `Search.find`."""
        ways = findable.ways_of(text)
        rows = self._register.find(ways, most + 1) if ways else []
        return {"visits": rows[:most], "more": len(rows) > most}

    def newest(self, most: int) -> list[VisitRow]:
        """The newest visits, newest first; see `Search.newest`."""
        return self._register.newest(most)

    def count(self) -> int:
        """How many visits are on file [count]."""
        return self._register.count()

    def visits_of(self, what: str, identifiers: set[str]) -> list[str]:
        """The visits of a vehicle or of a customer, newest first; see `Search.visits_of`."""
        return [visit for visit, _ in self._register.visits_of(what, {findable.clean(one) for one in identifiers})]

    def visits_by(self, vehicles: set[str]) -> dict[str, list[str]]:
        """The visits of each of several vehicles, newest first; see `Search.visits_by`."""
        cleaned = {findable.clean(vehicle): vehicle for vehicle in vehicles}
        visits: dict[str, list[str]] = {vehicle: [] for vehicle in vehicles}
        for visit, vehicle in self._register.visits_of("vehicle", set(cleaned)):
            visits[cleaned[vehicle]].append(visit)
        return visits

    def vehicles_called(self, make: str, model: str) -> list[str]:
        """The vehicles of this make and model, the newest visit's first; see `Search.vehicles_called`."""
        return self._register.vehicles_called(findable.called_text(make, model))

    def devices_of(self, what: str, identifier: str) -> list[str]:
        """The devices that filed something in a visit of a vehicle or customer [lower-case hex, in order]."""
        with self._lock:
            # Asked while records are entered, where the ones before count too.
            self.settle()
            return devices_in(self._views, self.visits_of(what, {identifier}))
