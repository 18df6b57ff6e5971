"""Pages as the tables that lie in their files, and back; and what the checkpoint beside them says.

Nothing here opens a file; `logbook` does.
"""

from __future__ import annotations

import json
import logging
from typing import Any

from sync.records.safe_files import Unreadable
from sync.records.views import Page

log = logging.getLogger("layby.logbook")


def tables_of(page: Page) -> dict[str, dict[str, Any]]:
    """A page as TinyDB's tables of numbered documents [JSON object]."""
    tables: dict[str, dict[str, Any]] = {"page": {"1": {"name": page.name, "covers": page.covers}}}
    for name, table in page.tables.items():
        tables[name] = {str(place): {"key": key, **entry} for place, (key, entry) in enumerate(table.items(), 1)}
    return tables


def read_page(name: str, kept: dict[str, Any], journal_size: int) -> Page:
    """A page from its tables.

    Args:
        name: which page [text]
        kept: TinyDB's tables as read; they are taken apart [JSON object]
        journal_size: the end of the journal [bytes]

    Returns:
        the page [Page]

    Raises:
        Unreadable: it is not of the known form, or ahead of the journal.
    """
    try:
        covers = int(kept.pop("page")["1"]["covers"])
        page = Page(name, covers)
        for table, documents in kept.items():
            entries = page.table(table)
            for document in documents.values():
                entries[str(document.pop("key"))] = document
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise Unreadable(file=name) from error
    if covers > journal_size:
        raise Unreadable(file=name)
    return page


def read_checkpoint(content: bytes) -> tuple[int, int]:
    """Up to where all pages were complete, and how many there were; (0, 0) where that cannot be told [bytes, count]."""
    try:
        kept = json.loads(content)
        return int(kept["offset"]), int(kept["pages"])
    except (ValueError, KeyError, TypeError):
        log.warning("the checkpoint cannot be read; all pages are compared with the journal")
        return 0, 0
