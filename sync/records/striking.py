"""Removing records from the views that show them: what was erased, and what no longer reads back.

Nothing here opens a view or reads a record; the caller posts again what a row still rests on.
"""

from __future__ import annotations

from collections.abc import Callable, Container
from dataclasses import dataclass
from typing import TypeVar

from sync.records.change_feed import FeedRow
from sync.records.heads import Heads
from sync.records.views import Tables, View

_Row = TypeVar("_Row")


@dataclass(frozen=True)
class Gone:
    """What is gone: records by their numbers, and the visits and cards that were erased."""

    numbers: Container[int]
    visits: frozenset[str] = frozenset()
    cards: frozenset[str] = frozenset()


def strike(view: View, gone: Gone) -> list[int]:
    """Remove what is gone from a view.

    If part of a visit, card or sheet is gone, it is removed whole; its other records have to be posted again.

    Args:
        view: the view; changed [View]
        gone: what is gone [Gone]

    Returns:
        the numbers of the records to be posted to it again, in order [counts]
    """
    tables = view.tables
    before = _size(tables)
    for places in (tables.get("ops", {}), tables.get("lines", {}), tables.get("letters", {})):
        _drop(places, lambda _, row: row["number"] in gone.numbers)
    # A sheet whose note was lost stays among those in progress, so that a person is asked about it.
    _drop(tables.get("underway", {}), lambda _, row: row["visit"] in gone.visits)
    _drop(tables.get("started", {}), lambda visit, _: visit in gone.visits)
    _drop(tables.get("rows", {}), lambda visit, _: visit in gone.visits)
    _drop(tables.get("receipts", {}), lambda key, _: int(key.rpartition(" ")[2]) in gone.numbers)
    _drop(tables.get("feed", {}), lambda _, row: _tells_of(row, gone))
    again: set[int] = set()
    for heads_by_name, erased in ((tables.get("visits", {}), gone.visits), (tables.get("cards", {}), gone.cards)):
        again |= _drop_partly(heads_by_name, erased, gone, _numbers_of)
    again |= _drop_partly(tables.get("sheets", {}), frozenset(), gone, lambda row: row["notes"])
    _drop(tables.get("sheets", {}), lambda _, row: row["record"]["visit"] in gone.visits)
    view.changed = view.changed or _size(tables) != before or bool(again)
    return sorted(again)


def _size(tables: Tables) -> int:
    return sum(len(table) for table in tables.values() if isinstance(table, dict))


def _drop(table: dict[str, _Row], is_gone: Callable[[str, _Row], bool]) -> None:
    for key in [key for key, row in table.items() if is_gone(key, row)]:
        del table[key]


def _drop_partly(
    table: dict[str, _Row], erased: frozenset[str], gone: Gone, numbers_of: Callable[[_Row], list[int]]
) -> set[int]:
    """Drop the rows that were erased or rest on what is gone; returns the numbers left of those not erased."""
    again: set[int] = set()
    for key, row in list(table.items()):
        numbers = numbers_of(row)
        if key in erased:
            del table[key]
        elif any(number in gone.numbers for number in numbers):
            del table[key]
            again |= {number for number in numbers if number not in gone.numbers}
    return again


def _numbers_of(heads: Heads) -> list[int]:
    return [op["number"] for op in heads["ops"]] + heads["notes"]


def _tells_of(row: FeedRow, gone: Gone) -> bool:
    # An earlier version may have accepted something that isn't a text.
    named = {str(row.get("visit")), str(row.get("vehicle")), str(row.get("customer"))}
    erased = any(name in gone.visits or name in gone.cards for name in named)
    return erased or row["at"] in gone.numbers or row.get("number") in gone.numbers
