"""Taking what was erased off the pages, so that they need not all be made again from the journal.

Nothing here opens a page or the journal; which pages an erasure touches is told by `views.pages_of`.
"""

from __future__ import annotations

from dataclasses import dataclass

from sync.records.record import Entry
from sync.records.views import Page

KNOWN = {"ops", "visits", "started", "rows", "cards", "receipts", "feed", "lines"}


@dataclass(frozen=True)
class Gone:
    """What was erased: the offsets of records, and the ids of visits and of cards."""

    offsets: frozenset[int]
    visits: frozenset[str]
    cards: frozenset[str]


def strike(page: Page, gone: Gone) -> bool:
    """Take what was erased off a page; what stays on it is as if the rest had never been filed.

    Args:
        page: the page; changed [Page]
        gone: what was erased [Gone]

    Returns:
        False where the page cannot be mended so and has to be made again: a card that stays was partly erased, or
        something stands there that is not known here [bool]
    """
    whole = page.tables.keys() <= KNOWN
    for name in page.tables.keys() & KNOWN:
        table = page.tables[name]
        for key in list(table):
            if _is_gone(name, key, table[key], gone):
                del table[key]
            elif name == "cards" and any(op["offset"] in gone.offsets for op in table[key]["ops"]):
                whole = False
    return whole


def _is_gone(table: str, key: str, entry: Entry, gone: Gone) -> bool:
    if table in ("visits", "started", "rows"):
        return key in gone.visits
    if table == "cards":
        return key in gone.cards
    if table == "receipts":
        return int(key.rpartition(" ")[2]) in gone.offsets
    if table == "feed":
        named = {str(entry.get(what)) for what in ("visit", "vehicle", "customer")}
        return bool({entry["at"], entry.get("offset")} & gone.offsets or named & (gone.visits | gone.cards))
    return entry["offset"] in gone.offsets
