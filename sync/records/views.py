"""The views of the logbook: their names, and their tables.

Nothing here keeps a view, and nothing knows how a record changes one; `posting` does.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import Required, TypedDict

from sync.kernel.json_tree import Json, JsonObject
from sync.records.change_feed import FeedRow
from sync.records.heads import Heads
from sync.records.sheet_record import SheetRow
from sync.records.store.interface import START, Mark
from sync.wire import op_line
from sync.wire.results import Receipt

DAY_MS = 86_400_000
DAYS_TO_1970 = date(1970, 1, 1).toordinal()
RECEIPTS_A_VIEW = 500


class MonthRow(TypedDict, total=False):
    """What finds a visit; `also` holds its former names. Texts or null, apart from what an earlier version accepted."""

    also: Required[list[Json]]
    started_at: Json
    vehicle: Json
    plate: Json
    vin: Json
    make: Json
    model: Json
    customer_id: Json
    customer: Json
    outcome: Json


class Place(TypedDict):
    """Where something is: the number of its record."""

    number: int


class Underway(Place):
    """A sheet that is approved or queued, by the number of the note that says so."""

    visit: str
    revision: str


class Tables(TypedDict, total=False):
    """The tables of a view that were ever asked for."""

    ops: dict[str, Place]
    started: dict[str, JsonObject]
    visits: dict[str, Heads]
    rows: dict[str, MonthRow]
    cards: dict[str, Heads]
    receipts: dict[str, Receipt]
    feed: dict[str, FeedRow]
    lines: dict[str, Place]
    sheets: dict[str, SheetRow]
    underway: dict[str, Underway]
    letters: dict[str, Place]
    erasures: dict[str, JsonObject]
    erased: dict[str, Place]
    lost: dict[str, Place]


@dataclass
class View:
    """One view in memory: its tables, and the latest record entered on them.

    A table is made when it is first asked for.
    """

    name: str
    covers: Mark = START
    tables: Tables = field(default_factory=Tables)
    changed: bool = False

    @property
    def ops(self) -> dict[str, Place]:
        """On a day: the place of each operation whose id was made that day, by its id."""
        return self.tables.setdefault("ops", {})

    @property
    def started(self) -> dict[str, JsonObject]:
        """On a day: an empty object for each visit that was ever said to start that day, by its id."""
        return self.tables.setdefault("started", {})

    @property
    def visits(self) -> dict[str, Heads]:
        """On a day: the heads of each visit whose id was made that day, by its id."""
        return self.tables.setdefault("visits", {})

    @property
    def rows(self) -> dict[str, MonthRow]:
        """On a month: what finds each visit, by its id."""
        return self.tables.setdefault("rows", {})

    @property
    def cards(self) -> dict[str, Heads]:
        """On a view of vehicles or customers: the heads of each card, by its id."""
        return self.tables.setdefault("cards", {})

    @property
    def receipts(self) -> dict[str, Receipt]:
        """On a view of a device's receipts: each by its seq and the number of its record."""
        return self.tables.setdefault("receipts", {})

    @property
    def feed(self) -> dict[str, FeedRow]:
        """On a view of a device's changes: each by the number of its record and its place there."""
        return self.tables.setdefault("feed", {})

    @property
    def lines(self) -> dict[str, Place]:
        """On a view of refused lines: the place of each, by the digest of its bytes."""
        return self.tables.setdefault("lines", {})

    @property
    def sheets(self) -> dict[str, SheetRow]:
        """On a view of sheets: each sheet of the visits of a day, by visit and revision."""
        return self.tables.setdefault("sheets", {})

    @property
    def underway(self) -> dict[str, Underway]:
        """On the only view of its name: the sheets that are approved or queued, by visit and revision."""
        return self.tables.setdefault("underway", {})

    @property
    def letters(self) -> dict[str, Place]:
        """On a view of letters: those handed to the mail server on that UTC day, by the instant [ms] and the number."""
        return self.tables.setdefault("letters", {})

    @property
    def erasures(self) -> dict[str, JsonObject]:
        """On the only view of what was erased: the record of each erasure, by its number."""
        return self.tables.setdefault("erasures", {})

    @property
    def erased(self) -> dict[str, Place]:
        """On the same view: the hash of each name that was erased."""
        return self.tables.setdefault("erased", {})

    @property
    def lost(self) -> dict[str, Place]:
        """On the only view of its name: the blanks for damage that was set aside, by their numbers."""
        return self.tables.setdefault("lost", {})


# Names ---------------------------------------------------------------------------------------------------------------


def day_name(ordinal: int) -> str:
    """The view of a day, given as days since 1970; days outside the calendar have a view too."""
    try:
        return f"days/{date.fromordinal(DAYS_TO_1970 + ordinal).isoformat()}"
    except (ValueError, OverflowError):
        return f"days/day-{ordinal}"


@lru_cache(maxsize=4096)
def day_view(identifier: str) -> str:
    """The view of the UTC day in a UUID version 7."""
    return day_name(op_line.made_ms(identifier) // DAY_MS)


@lru_cache(maxsize=4096)
def month_view(visit: str) -> str:
    """The view of the UTC month in a visit's id, where the names of visits are looked up."""
    return f"months/{day_view(visit).removeprefix('days/')[:7]}"


def card_view(what: str, identifier: str) -> str:
    """The view with the card of a vehicle or customer: one of 4096 of its sort, so that each stays small."""
    return f"{what}s/{hashlib.sha256(identifier.encode()).hexdigest()[:3]}"


def digest_view(digest: str) -> str:
    """The view that finds a refused line by its bytes."""
    return f"refused/{digest[:2]}"


def device_view(device: str, seq: int) -> str:
    """The view with a device's receipts around a seq; fourteen digits, so that names sort as numbers do."""
    return f"devices/{device}/{seq // RECEIPTS_A_VIEW:014d}"


def sheet_view(visit: str) -> str:
    """The view with the sheets of a visit: those of the UTC day in its id."""
    return f"sheets/{day_view(visit).removeprefix('days/')}"


def letter_view(at_ms: int) -> str:
    """The view with the letters that were handed over on a UTC day."""
    return f"letters/{day_name(at_ms // DAY_MS).removeprefix('days/')}"


UNDERWAY_VIEW = "underway/all"
ERASED_VIEW = "erased/all"
LOST_VIEW = "lost/all"
