"""The register: visits found by plate, VIN, customer's name and date, and who took part in a vehicle or customer.

Everything here comes from the views of the months; what is held in memory is made from them when first needed.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass

from sync.kernel.json_tree import Json
from sync.kernel.signs import BETWEEN
from sync.records.view_cache import ViewCache
from sync.records.views import MonthRow, day_view
from sync.wire.results import VisitRow, VisitRows

FOUND_MOST = 50
_SIGNS = re.compile(f"[{re.escape(BETWEEN)}\\s]+")
_SIGNS_OF_LINES = re.compile(f"[{re.escape(BETWEEN)}]+")
_BETWEEN = "\x1f"


@dataclass
class _Month:
    """One month prepared for searching: visits newest first, and for each one line of words and one of marks."""

    visits: list[str]
    words: list[str]
    marks: list[str]
    cards: list[tuple[str | None, str | None]]
    models: list[tuple[str, str]]
    all_words: str
    all_marks: str


def squeezed(text: str) -> str:
    """A plate or VIN as it is compared, by the kernel's rule of what stands between its letters."""
    return _SIGNS.sub("", text.casefold())


def without_spaces(text: str) -> str:
    """A make or model as compared: lower case, no spaces."""
    return "".join(text.casefold().split())


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
        """A month's view has changed, or all may have."""
        self._is_warm = False
        if view is None:
            self._months.clear()
        else:
            self._months.pop(view, None)

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

        Every word must be found; punctuation and spaces in plates and VINs don't matter, nor do capitals. A visit is
        also found by its names before a correction.

        Args:
            text: what to look for [text]
            most: the maximum number wanted [count]

        Returns:
            {visits: [{id, day, customer, vehicle, plate, vin, outcome, vehicle_id, customer_id}], more}, newest first
            [VisitRows]
        """
        words, mark = text.casefold().split(), squeezed(text)
        rows: list[VisitRow] = []
        if not words:
            return {"visits": [], "more": False}
        with self._lock:
            for name in reversed(self._views.names("months")):
                month = self._month(name)
                if any(word not in month.all_words for word in words) and (not mark or mark not in month.all_marks):
                    continue
                for place, line in enumerate(month.words):
                    if all(word in line for word in words) or (mark and mark in month.marks[place]):
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
        devices = set()
        with self._lock:
            for visit in self.visits_of(what, {identifier}):
                heads = self._views.view(day_view(visit)).visits.get(visit)
                devices |= {op["device"] for op in heads["ops"]} if heads else set()
        return sorted(devices)

    def _row(self, name: str, visit: str) -> VisitRow:
        row = self._views.view(name).rows[visit]
        return {
            "id": visit,
            "day": _day(row),
            "customer": _text(row.get("customer")),
            "vehicle": " ".join(str(part) for part in (row.get("make"), row.get("model")) if part) or None,
            "plate": _text(row.get("plate")),
            "vin": _text(row.get("vin")),
            "outcome": _text(row.get("outcome")),
            "vehicle_id": _text(row.get("vehicle")),
            "customer_id": _text(row.get("customer_id")),
        }

    def _month(self, name: str) -> _Month:
        month = self._months.get(name)
        if month is None:
            rows = sorted(self._views.view(name).rows.items(), key=lambda item: (_day(item[1]) or "", item[0]))
            month = self._months[name] = _ready(rows[::-1])
        return month


def _day(row: MonthRow) -> str | None:
    started_at = _text(row.get("started_at"))
    return None if started_at is None else started_at[:10]


def _text(value: Json) -> str | None:
    # An earlier version may have accepted something that isn't a text.
    return None if value is None else str(value)


def _id(value: Json) -> str | None:
    return value if isinstance(value, str) else None


def _ready(rows: list[tuple[str, MonthRow]]) -> _Month:
    """A month's rows prepared; its lines are lowered and stripped all at once, as a start does for every month."""
    words, marks = [], []
    for _, row in rows:
        signs = [str(sign or "") for sign in (row.get("plate"), row.get("vin"), *row["also"])]
        words.append(" ".join((_day(row) or "", str(row.get("customer") or ""), *signs)).replace("\n", " "))
        # A sign between plates and VINs, so that the end of one and the start of the next don't make a match.
        marks.append(_BETWEEN.join(signs).replace("\n", " "))
    all_words = "\n".join(words).casefold()
    all_marks = _SIGNS_OF_LINES.sub("", "\n".join(marks).casefold())
    cards = [(_id(row.get("vehicle")), _id(row.get("customer_id"))) for _, row in rows]
    visits = [visit for visit, _ in rows]
    models = [(without_spaces(str(row.get("make") or "")), without_spaces(str(row.get("model") or "")))
              for _, row in rows]
    return _Month(visits, all_words.split("\n"), all_marks.split("\n"), cards, models, all_words, all_marks)
