"""The names of the logbook's pages: on which page a day, a month, a card, a receipt or a refused line stands.

Nothing here knows what stands on a page or reads a file; a name is a path below `pages`, without its ending.
"""

from __future__ import annotations

import hashlib
from datetime import date, datetime
from functools import lru_cache

from sync.wire import op_line

DAY_MS = 86_400_000
DAYS_TO_1970 = date(1970, 1, 1).toordinal()
RECEIPTS_A_PAGE = 500


def day_name(ordinal: int) -> str:
    """The page of a day, given as days since 1970; days that no calendar holds have a page as well."""
    try:
        return f"days/{date.fromordinal(DAYS_TO_1970 + ordinal).isoformat()}"
    except (ValueError, OverflowError):
        return f"days/day-{ordinal}"


@lru_cache(maxsize=4096)
def day_page(identifier: str) -> str:
    """The page of the UTC day in a UUID version 7."""
    return day_name(op_line.made_ms(identifier) // DAY_MS)


def local_day_page(started_at: str) -> str:
    """The page of the local day on which a visit started."""
    return f"days/{datetime.fromisoformat(started_at).date().isoformat()}"


@lru_cache(maxsize=4096)
def month_page(visit: str) -> str:
    """The page of the UTC month in a visit's id, where visits are found by what they are called."""
    return f"months/{day_page(visit).removeprefix('days/')[:7]}"


def card_page(what: str, identifier: str) -> str:
    """The page with the card of a vehicle or customer: one of 4096 of its sort, so that each stays small."""
    return f"{what}s/{hashlib.sha256(identifier.encode()).hexdigest()[:3]}"


def digest_page(digest: str) -> str:
    """The page that finds a refused line by its bytes."""
    return f"refused/{digest[:2]}"


def device_page(device: str, seq: int) -> str:
    """The page with a device's receipts round a seq; fourteen digits, so that names sort as numbers do."""
    return f"devices/{device}/{seq // RECEIPTS_A_PAGE:014d}"
