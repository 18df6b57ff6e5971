"""What was erased from a logbook: the plain record of it, and the memory that keeps it out.

Nothing here decides what to erase or carries it out. The record holds no name and no reading: only ids that mean
nothing except to the devices that made them, and hashes of the ids of entries.
"""

from __future__ import annotations

import hashlib
from collections.abc import Container
from typing import TypedDict, cast

from sync.kernel.json_tree import Json, JsonObject


class Erasure(TypedDict):
    """What the record says about one erasure.

    Cursors grow, `at` is in ms since 1970; visits, customers and vehicles are ids, devices those that took part,
    entries and photos counts.
    """

    cursor: int
    at: int
    visits: list[str]
    customers: list[str]
    vehicles: list[str]
    devices: list[str]
    entries: int
    photos: int


def remembered(name: str) -> str:
    """An id or digest in the form in which it is remembered after an erasure: its SHA-256 [64 hex digits]."""
    return hashlib.sha256(name.encode("utf-8")).hexdigest()


class Erased:
    """The memory of one logbook as its view holds it now; true if anything was ever erased.

    Args of the constructor:
        records: the record of each erasure, by its cursor [JSON object each]
        hashes: what was erased, as `remembered` makes it [texts]
    """

    def __init__(self, records: dict[str, JsonObject], hashes: Container[str]) -> None:
        self._records = records
        self._hashes = hashes

    def __bool__(self) -> bool:
        return bool(self._records)

    @property
    def erasures(self) -> list[Erasure]:
        """The records, in their order [Erasure each]."""
        rows = sorted(self._records.values(), key=lambda row: cast(int, row["cursor"]))
        # Only an erasure writes these rows.
        return [cast(Erasure, {name: row[name] for name in Erasure.__annotations__}) for row in rows]

    def holds(self, name: Json) -> bool:
        """Whether an id of an entry, visit, vehicle or customer, or the digest of a line, was erased."""
        return isinstance(name, str) and remembered(name) in self._hashes
