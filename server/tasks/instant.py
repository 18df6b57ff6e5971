"""The instant in which a task files something, with what this computer's clock says there. Nothing is filed here."""

from __future__ import annotations

import time
from datetime import datetime


def now() -> tuple[int, int]:
    """The instant and this computer's offset from UTC [ms since 1970, minutes]."""
    offset = datetime.now().astimezone().utcoffset()
    return time.time_ns() // 1_000_000, int(offset.total_seconds() // 60) if offset else 0
