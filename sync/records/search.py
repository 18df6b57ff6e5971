"""The register: visits found by plate, VIN, customer's name and date, and who took part in a vehicle or customer.

Everything here comes from the views of the months; what is held in memory is made from them when first needed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from contextlib import AbstractContextManager
from dataclasses import dataclass

from sync.kernel.signs import BETWEEN
from sync.records import findable
from sync.records.change_feed import handed_among
from sync.records.record import FiledRecord
from sync.records.store.register import Ways
from sync.records.view_cache import ViewCache
from sync.records.views import MonthRow, day_view
from sync.wire.results import VisitRow, VisitRows

FOUND_MOST = 50
_BETWEEN = "\x1f"
# In the lines of many visits at once: all that `squeezed` takes out, apart from what stands between marks and lines.
_SIGNS_OF_LINES = re.compile(f"(?:[{re.escape(BETWEEN)}]|[^\\S\\n{_BETWEEN}])+")


@dataclass
class _Month:
    """One month prepared for searching: visits newest first, and for each its day and one line of words and marks."""

    visits: list[str]
    days: list[str]
    lines: list[str]
    cards: list[tuple[str | None, str | None]]
    models: list[tuple[str, str]]
    all_days: str
    all_lines: str

    def may_have(self, ways: Ways) -> bool:
        """Whether any visit may be found; most months aren't looked at any further."""
        return any(all(word in self.all_lines or f"\n{word}" in self.all_days for word in way) for way in ways)

    def has(self, place: int, ways: Ways) -> bool:
        """Whether a visit is found."""
        line, day = self.lines[place], self.days[place]
        return any(all(word in line or day.startswith(word) for word in way) for way in ways)


class Search:
    """The register of one logbook; it is the logbook's own.

    Args of the constructor:
        lock: the logbook's own lock; held while views are read [lock]
        views: the logbook's views [ViewCache]
    """

    def __init__(self, lock: AbstractContextManager[bool | None], views: ViewCache) -> None:
        self._lock = lock
        self._views = views
        self._months: dict[str, _Month] = {}
        self._is_warm = False

    def forget(self, view: str | None = None) -> None:
        """A view has changed, or all may have."""
        self._is_warm = False
        if view is None:
            self._months.clear()
        else:
            self._months.pop(view, None)

    def entered(self, view: str, filed: FiledRecord) -> None:
        """A record was entered on a view."""
        self.forget(view)

    def settle(self) -> None:
        """What was entered is found as it is."""

    def made_again(self, view: str) -> None:
        """A view was made again from the records."""
        self.forget(view)

    def remove(self, visits: Collection[str]) -> None:
        """Visits were erased, and are in no view any more."""
        self.forget()

    def warm(self, is_enough: Callable[[], bool]) -> None:
        """Prepare what isn't ready, a month at a time, for the next search; stops when everything is to end."""
        if self._is_warm:
            return
        self._is_warm = True
        with self._lock:
            names = self._views.names("months")
        for name in names:
            with self._lock:
                if not is_enough():
                    self._month(name)

    def find(self, text: str, most: int = FOUND_MOST) -> VisitRows:
        """Visits by plate, VIN, customer's name, or day (YYYY-MM-DD or the beginning of one).

        Every word must be found, as `findable` says; punctuation and spaces in plates and VINs don't matter, nor do
        capitals. A visit is also found by its names before a correction.

        Args:
            text: what to look for [text]
            most: the maximum number wanted [count]

        Returns:
            {visits: [{id, day, customer, vehicle, plate, vin, outcome, vehicle_id, customer_id}], more}, newest first
            [VisitRows]
        """
        ways = findable.ways_of(text)
        rows: list[VisitRow] = []
        if not ways:
            return {"visits": [], "more": False}
        with self._lock:
            for name in reversed(self._views.names("months")):
                month = self._month(name)
                for place in range(len(month.visits) if month.may_have(ways) else 0):
                    if month.has(place, ways):
                        rows.append(self._row(name, month.visits[place]))
                        if len(rows) > most:
                            return {"visits": rows[:most], "more": True}
        return {"visits": rows, "more": False}

    def newest(self, most: int) -> list[VisitRow]:
        """The newest visits, however they were named.

        Args:
            most: the maximum number wanted [count]

        Returns:
            their rows, newest first [VisitRow each]
        """
        rows: list[VisitRow] = []
        with self._lock:
            for name in reversed(self._views.names("months")):
                rows += [self._row(name, visit) for visit in self._month(name).visits[:most - len(rows)]]
                if len(rows) >= most:
                    break
        return rows

    def count(self) -> int:
        """How many visits are on file [count]."""
        with self._lock:
            return sum(len(self._month(name).visits) for name in self._views.names("months"))

    def visits_of(self, what: str, identifiers: set[str]) -> list[str]:
        """The visits of a vehicle or of a customer.

        Args:
            what: "vehicle" or "customer" [text]
            identifiers: its ids [texts]

        Returns:
            the visits, newest first [list of UUID version 7]
        """
        place = 0 if what == "vehicle" else 1
        visits = []
        with self._lock:
            for name in reversed(self._views.names("months")):
                month = self._month(name)
                visits += [month.visits[at] for at, card in enumerate(month.cards) if card[place] in identifiers]
        return visits

    def visits_by(self, vehicles: set[str]) -> dict[str, list[str]]:
        """The visits of each of several vehicles, found in one pass.

        Args:
            vehicles: their ids [texts]

        Returns:
            by vehicle, newest first [lists of UUID version 7]
        """
        visits: dict[str, list[str]] = {vehicle: [] for vehicle in vehicles}
        with self._lock:
            for name in reversed(self._views.names("months")):
                month = self._month(name)
                for visit, card in zip(month.visits, month.cards, strict=True):
                    if card[0] in visits:
                        visits[str(card[0])].append(visit)
        return visits

    def vehicles_called(self, make: str, model: str) -> list[str]:
        """The vehicles that any visit calls by this make and model, regardless of capitals and spaces.

        Args:
            make: as `without_spaces` writes it [text]
            model: the same [text]

        Returns:
            their ids, the one of the newest visit first [texts]
        """
        vehicles: dict[str, None] = {}
        with self._lock:
            for name in reversed(self._views.names("months")):
                month = self._month(name)
                for card, called in zip(month.cards, month.models, strict=True):
                    if called == (make, model) and card[0] is not None:
                        vehicles[card[0]] = None
        return list(vehicles)

    def devices_of(self, what: str, identifier: str) -> list[str]:
        """The devices that filed something in a visit of a vehicle or customer [lower-case hex, in order]."""
        with self._lock:
            return devices_in(self._views, self.visits_of(what, {identifier}))

    def _row(self, name: str, visit: str) -> VisitRow:
        return findable.shown(visit, self._views.view(name).rows[visit])

    def _month(self, name: str) -> _Month:
        month = self._months.get(name)
        if month is None:
            rows = sorted(self._views.view(name).rows.items(),
                          key=lambda item: (findable.day_of(item[1]) or "", item[0]))
            month = self._months[name] = _ready(rows[::-1])
        return month


def devices_in(views: ViewCache, visits: list[str]) -> list[str]:
    """Who takes part in visits: what devices filed something there, and whom they were handed over to [ids, in order].

    The caller holds the logbook's lock.
    """
    devices = set[str]()
    for visit in visits:
        heads = views.view(day_view(visit)).visits.get(visit)
        if heads is not None:
            devices |= {op["device"] for op in heads["ops"]} | handed_among([heads])
    return sorted(devices)


def _ready(rows: list[tuple[str, MonthRow]]) -> _Month:
    """A month's rows prepared; its lines are lowered and stripped all at once, as a start does for every month."""
    # A sign between them, so that the end of one and the start of the next don't make a match.
    names = "\n".join(_BETWEEN.join(findable.names_of(row)) for _, row in rows).casefold()
    marks = "\n".join(_BETWEEN.join(findable.marks_of(row)) for _, row in rows).casefold()
    pairs = zip(names.split("\n"), _SIGNS_OF_LINES.sub("", marks).split("\n"), strict=True)
    lines = [f"{name}{_BETWEEN}{mark}" for name, mark in pairs]
    days = [findable.clean(findable.day_of(row) or "").casefold() for _, row in rows]
    cards = [(findable.vehicle_of(row), findable.customer_of(row)) for _, row in rows]
    models = [findable.called(row) for _, row in rows]
    all_days = "".join(f"\n{day}" for day in days)
    return _Month([visit for visit, _ in rows], days, lines, cards, models, all_days, "\n".join(lines))
