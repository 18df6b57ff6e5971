"""The views of the logbook: their names, the tables that stand on them, and the form that they have in their files.

Nothing here opens a file, and nothing here knows how a record changes a view; `posting` does. A name is a path below
`pages`, without its ending.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import Required, TypedDict, cast

from sync.kernel.json_tree import Json, JsonObject
from sync.records.change_feed import FeedRow
from sync.records.heads import Heads
from sync.records.journal import Place
from sync.records.safe_files import Unreadable
from sync.wire import op_line
from sync.wire.results import Receipt

DAY_MS = 86_400_000
DAYS_TO_1970 = date(1970, 1, 1).toordinal()
RECEIPTS_A_VIEW = 500


class MonthRow(TypedDict, total=False):
    """What a visit is found by; `also` is what it was once called. Texts or null, save what an earlier version took."""

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


class Tables(TypedDict, total=False):
    """The tables of a view, those that were ever asked for."""

    ops: dict[str, Place]
    started: dict[str, JsonObject]
    visits: dict[str, Heads]
    rows: dict[str, MonthRow]
    cards: dict[str, Heads]
    receipts: dict[str, Receipt]
    feed: dict[str, FeedRow]
    lines: dict[str, Place]


@dataclass
class View:
    """One view in memory: its tables, and the journal offset up to which it is complete.

    A table is made when it is first asked for.
    """

    name: str
    covers: int = 0
    tables: Tables = field(default_factory=Tables)
    changed: bool = False

    @property
    def ops(self) -> dict[str, Place]:
        """On a day: where each operation stands whose id was made that day, by its id."""
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
        """On a month: what each visit is found by, by its id."""
        return self.tables.setdefault("rows", {})

    @property
    def cards(self) -> dict[str, Heads]:
        """On a view of vehicles or customers: the heads of each card, by its id."""
        return self.tables.setdefault("cards", {})

    @property
    def receipts(self) -> dict[str, Receipt]:
        """On a view of a device's receipts: each by its number and the offset of its record."""
        return self.tables.setdefault("receipts", {})

    @property
    def feed(self) -> dict[str, FeedRow]:
        """On a view of a device's changes: each by the offset of its record and its place there."""
        return self.tables.setdefault("feed", {})

    @property
    def lines(self) -> dict[str, Place]:
        """On a view of refused lines: where each stands, by the digest of its bytes."""
        return self.tables.setdefault("lines", {})


# Names ---------------------------------------------------------------------------------------------------------------


def day_name(ordinal: int) -> str:
    """The view of a day, given as days since 1970; days that no calendar holds have a view as well."""
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
    """The view of the UTC month in a visit's id, where visits are found by what they are called."""
    return f"months/{day_view(visit).removeprefix('days/')[:7]}"


def card_view(what: str, identifier: str) -> str:
    """The view with the card of a vehicle or customer: one of 4096 of its sort, so that each stays small."""
    return f"{what}s/{hashlib.sha256(identifier.encode()).hexdigest()[:3]}"


def digest_view(digest: str) -> str:
    """The view that finds a refused line by its bytes."""
    return f"refused/{digest[:2]}"


def device_view(device: str, seq: int) -> str:
    """The view with a device's receipts round a seq; fourteen digits, so that names sort as numbers do."""
    return f"devices/{device}/{seq // RECEIPTS_A_VIEW:014d}"


# Files ---------------------------------------------------------------------------------------------------------------


def documents_of(view: View) -> dict[str, JsonObject]:
    """A view as TinyDB's tables of numbered documents [JSON objects by table]."""
    tables: dict[str, JsonObject] = {"page": {"1": {"name": view.name, "covers": view.covers}}}
    # What the tables hold is JSON through and through.
    for name, table in cast(dict[str, dict[str, JsonObject]], view.tables).items():
        tables[name] = {str(place): {"key": key, **row} for place, (key, row) in enumerate(table.items(), 1)}
    return tables


def read_view(name: str, documents: dict[str, JsonObject], journal_size: int) -> View:
    """A view from TinyDB's tables.

    Args:
        name: which view [text]
        documents: the tables as read; they are taken apart [JSON objects by table]
        journal_size: the end of the journal [bytes]

    Returns:
        the view [View]

    Raises:
        Unreadable: it is not of the known form, or ahead of the journal.
    """
    head = documents.pop("page", {}).get("1")
    covers = head.get("covers") if isinstance(head, dict) else None
    if not isinstance(covers, int) or covers > journal_size:
        raise Unreadable(file=name)
    tables = {table: dict(_row(name, document) for document in rows.values()) for table, rows in documents.items()}
    # Nothing but `documents_of` writes these files, from tables of these types.
    return View(name, covers, cast(Tables, tables))


def _row(name: str, document: Json) -> tuple[str, JsonObject]:
    """The key and the row of one document."""
    if not isinstance(document, dict) or "key" not in document:
        raise Unreadable(file=name)
    return str(document.pop("key")), document
