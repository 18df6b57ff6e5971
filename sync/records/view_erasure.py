"""Taking what was erased off the views, so that they need not all be made again from the journal.

Nothing here opens a view or the journal; which views an erasure touches is told by `posting.views_of`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from sync.records.change_feed import FeedRow
from sync.records.journal import Place
from sync.records.views import Tables, View

_Row = TypeVar("_Row")


@dataclass(frozen=True)
class Erased:
    """What was erased: the offsets of records, and the ids of visits and of cards."""

    offsets: frozenset[int]
    visits: frozenset[str]
    cards: frozenset[str]


def strike(view: View, erased: Erased) -> bool:
    """Take what was erased off a view; what stays on it is as if the rest had never been filed.

    Args:
        view: the view; changed [View]
        erased: what was erased [Erased]

    Returns:
        False where the view cannot be mended so and has to be made again: a card that stays was partly erased, or
        something stands there that is not known here [bool]
    """
    tables = view.tables
    for places in (tables.get("ops", {}), tables.get("lines", {})):
        _drop(places, lambda _, place: _is_at(place, erased))
    _drop(tables.get("visits", {}), lambda visit, _: visit in erased.visits)
    _drop(tables.get("started", {}), lambda visit, _: visit in erased.visits)
    _drop(tables.get("rows", {}), lambda visit, _: visit in erased.visits)
    _drop(tables.get("cards", {}), lambda card, _: card in erased.cards)
    _drop(tables.get("receipts", {}), lambda key, _: int(key.rpartition(" ")[2]) in erased.offsets)
    _drop(tables.get("feed", {}), lambda _, row: _tells_of(row, erased))
    partly = any(_is_at(op, erased) for heads in tables.get("cards", {}).values() for op in heads["ops"])
    return tables.keys() <= Tables.__optional_keys__ and not partly


def _drop(table: dict[str, _Row], is_erased: Callable[[str, _Row], bool]) -> None:
    for key in [key for key, row in table.items() if is_erased(key, row)]:
        del table[key]


def _is_at(place: Place, erased: Erased) -> bool:
    return place["offset"] in erased.offsets


def _tells_of(row: FeedRow, erased: Erased) -> bool:
    # An earlier version may have taken what is no text.
    named = {str(row.get("visit")), str(row.get("vehicle")), str(row.get("customer"))}
    return bool({row["at"], row.get("offset")} & erased.offsets or named & (erased.visits | erased.cards))
