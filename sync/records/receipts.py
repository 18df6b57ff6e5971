"""Receipts: what was answered for a device's operations, a stretch at a time, and which number comes next.

Nothing here files or judges anything; it reads the views of the devices, and no more of them than needed.
"""

from __future__ import annotations

from sync.records.logbook import Logbook
from sync.records.views import device_view
from sync.wire.results import Receipt, Receipts

RECEIPTS_MOST = 1000


def receipts(logbook: Logbook, device: str, after: int, most: int = RECEIPTS_MOST) -> Receipts:
    """What was answered for a device's operations.

    Args:
        logbook: the open logbook [Logbook]
        device: the device's name [lower-case hex]
        after: only operations with a larger seq of the device [count]
        most: the number returned at once, plus the rest of the last one's seq [count]

    Returns:
        {receipts: [{seq, id, status, digest}], next}, by seq; `next` is the `after` to continue with, null at the end
        [Receipts]

    Raises:
        DiskFull, JournalFailed: what is on file may not be promised.
    """
    logbook.check_promises()
    first = device_view(device, max(after + 1, 0))
    rows: list[Receipt] = []
    with logbook.lock:
        for name in logbook.view_names(f"devices/{device}"):
            if name < first:
                continue
            if len(rows) > most:
                break
            rows += sorted((row for row in logbook.view(name).receipts.values() if row["seq"] > after), key=_seq)
    answered = rows[:most]
    # Two operations can have the same seq if a device broke its own rule; they stay together.
    answered += [row for row in rows[most:] if answered and row["seq"] == answered[-1]["seq"]]
    following = answered[-1]["seq"] if len(answered) < len(rows) else None
    return {"receipts": [_bare(row) for row in answered], "next": following}


def _seq(row: Receipt) -> int:
    return row["seq"]


def _bare(row: Receipt) -> Receipt:
    return {"seq": row["seq"], "id": row["id"], "status": row["status"], "digest": row["digest"]}


def next_seq(logbook: Logbook, device: str) -> int:
    """The seq for the next operation that this desk writes as `device` [count]."""
    with logbook.lock:
        names = logbook.view_names(f"devices/{device}")
        seqs = [row["seq"] for row in logbook.view(names[-1]).receipts.values()] if names else []
        return max(seqs, default=0) + 1
