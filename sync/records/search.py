"""The register: visits found by plate, VIN, customer's name and date, and who took part in a vehicle or customer.

Nothing here is kept that is not on the pages of the months; what is held in memory is made from them when first needed.
"""

from __future__ import annotations

import re
import threading
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sync.records.logbook import Logbook

FOUND_MOST = 50
_SIGNS = re.compile(r"[^0-9a-z]+")
_SIGNS_OF_LINES = re.compile(r"[^0-9a-z\n\x1f]+")
_BETWEEN = "\x1f"

Row = dict[str, Any]


@dataclass
class _Month:
    """One month made ready to be searched: visits newest first, and for each one line of words and one of marks."""

    visits: list[str]
    words: list[str]
    marks: list[str]
    cards: list[tuple[str | None, str | None]]
    all_words: str
    all_marks: str


def squeezed(text: str) -> str:
    """A plate or VIN as it is compared: lower case, letters and digits only."""
    return _SIGNS.sub("", text.casefold())


class Search:
    """The register of one logbook; it is the logbook's own and shares its lock.

    Args of the constructor:
        logbook: whose visits are found [Logbook]
    """

    def __init__(self, logbook: Logbook) -> None:
        self._logbook = logbook
        self._months: dict[str, _Month] = {}
        self._is_warm = False

    def forget(self, page: str | None = None) -> None:
        """A month's page has changed, or all may have."""
        self._is_warm = False
        if page is None:
            self._months.clear()
        else:
            self._months.pop(page, None)

    def warm(self, ended: threading.Event) -> None:
        """Make ready what is not, a month at a time, so that the next search need not; given up once all is to end."""
        if self._is_warm:
            return
        self._is_warm = True
        with self._logbook.lock:
            names = self._logbook.page_names("months")
        for name in names:
            with self._logbook.lock:
                if not ended.is_set():
                    self._month(name)

    def find(self, text: str, most: int = FOUND_MOST) -> dict[str, Any]:
        """Visits by plate, VIN, customer's name, or day (YYYY-MM-DD or the beginning of one).

        Every word must be found; signs and spaces in plates and VINs do not matter, nor do capitals. A visit is found
        by what it was called before a correction, too.

        Args:
            text: what to look for [text]
            most: how many are wanted [count]

        Returns:
            {visits: [{id, day, customer, vehicle, plate, vin, outcome, vehicle_id, customer_id}], more}, newest first
            [JSON object]
        """
        words, mark = text.casefold().split(), squeezed(text)
        found: list[Row] = []
        if not words:
            return {"visits": [], "more": False}
        with self._logbook.lock:
            for name in reversed(self._logbook.page_names("months")):
                month = self._month(name)
                if any(word not in month.all_words for word in words) and (not mark or mark not in month.all_marks):
                    continue
                for place, line in enumerate(month.words):
                    if all(word in line for word in words) or (mark and mark in month.marks[place]):
                        found.append(self._row(name, month.visits[place]))
                        if len(found) > most:
                            return {"visits": found[:most], "more": True}
        return {"visits": found, "more": False}

    def visits_of(self, what: str, identifiers: set[str]) -> list[str]:
        """The visits of a vehicle or of a customer.

        Args:
            what: "vehicle" or "customer" [text]
            identifiers: its ids [texts]

        Returns:
            the visits, newest first [list of UUID version 7]
        """
        place = 0 if what == "vehicle" else 1
        found = []
        with self._logbook.lock:
            for name in reversed(self._logbook.page_names("months")):
                month = self._month(name)
                found += [month.visits[at] for at, card in enumerate(month.cards) if card[place] in identifiers]
        return found

    def devices_of(self, what: str, identifier: str) -> list[str]:
        """The devices that filed something in a visit of a vehicle or customer [lower-case hex, in order]."""
        devices = set()
        for visit in self.visits_of(what, {identifier}):
            devices |= {str(op["device"]) for op in (self._logbook.entry(visit) or {"ops": []})["ops"]}
        return sorted(devices)

    def _row(self, name: str, visit: str) -> Row:
        row = self._logbook.table(name, "rows")[visit]
        vehicle = " ".join(str(row[part]) for part in ("make", "model") if row.get(part))
        told = {"id": visit, "day": _day(row), "customer": row.get("customer"), "vehicle": vehicle or None}
        told |= {"plate": row.get("plate"), "vin": row.get("vin"), "outcome": row.get("outcome")}
        return {**told, "vehicle_id": row.get("vehicle"), "customer_id": row.get("customer_id")}

    def _month(self, name: str) -> _Month:
        kept = self._months.get(name)
        if kept is None:
            rows = sorted(self._logbook.table(name, "rows").items(), key=lambda item: (_day(item[1]) or "", item[0]))
            kept = self._months[name] = _ready(rows[::-1])
        return kept


def _day(row: Row) -> str | None:
    return None if row.get("started_at") is None else str(row["started_at"])[:10]


def _id(value: Any) -> str | None:
    return value if isinstance(value, str) else None


def _ready(rows: list[tuple[str, Row]]) -> _Month:
    """A month's rows made ready; its lines are lowered and squeezed all at once, as a start does so for every month."""
    words, marks = [], []
    for _, row in rows:
        # An earlier version may have taken what is no text.
        signs = [str(sign or "") for sign in (row.get("plate"), row.get("vin"), *row["also"])]
        words.append(" ".join((_day(row) or "", str(row.get("customer") or ""), *signs)).replace("\n", " "))
        # A sign between plates and VINs, so that the end of one and the beginning of the next are no find.
        marks.append(_BETWEEN.join(signs).replace("\n", " "))
    all_words = "\n".join(words).casefold()
    all_marks = _SIGNS_OF_LINES.sub("", "\n".join(marks).casefold())
    cards = [(_id(row.get("vehicle")), _id(row.get("customer_id"))) for _, row in rows]
    visits = [visit for visit, _ in rows]
    return _Month(visits, all_words.split("\n"), all_marks.split("\n"), cards, all_words, all_marks)
