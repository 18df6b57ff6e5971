"""Receipts: what was answered for a device's operations, a stretch at a time, and which number comes next.

Nothing here files anything or judges; the pages of the devices are read, and no more of them than are asked for.
"""

from __future__ import annotations

from typing import Any

from sync.records.logbook import Logbook
from sync.records.view_names import device_page

RECEIPTS_MOST = 1000


def receipts(logbook: Logbook, device: str, after: int, most: int = RECEIPTS_MOST) -> dict[str, Any]:
    """What was answered for a device's operations.

    Args:
        logbook: the open logbook [Logbook]
        device: the device's name [lower-case hex]
        after: only operations with a greater seq of the device [count]
        most: so many at once, and the rest of the last one's seq [count]

    Returns:
        {receipts: [{seq, id, status, digest}], next}, by seq; `next` is the `after` to go on with, null at the end
        [JSON object]
    """
    first = device_page(device, max(after + 1, 0))
    found: list[dict[str, Any]] = []
    with logbook.lock:
        for name in logbook.page_names(f"devices/{device}"):
            if name < first:
                continue
            if len(found) > most:
                break
            told = [dict(entry) for entry in logbook.table(name, "receipts").values() if entry["seq"] > after]
            found += sorted(told, key=lambda entry: int(entry["seq"]))
    taken = found[:most]
    # Two operations can bear one seq where a device broke its own rule; they are not torn apart.
    taken += [entry for entry in found[most:] if taken and entry["seq"] == taken[-1]["seq"]]
    following = int(taken[-1]["seq"]) if len(taken) < len(found) else None
    return {"receipts": [_bare(entry) for entry in taken], "next": following}


def _bare(entry: dict[str, Any]) -> dict[str, Any]:
    return {key: entry[key] for key in ("seq", "id", "status", "digest")}


def next_seq(logbook: Logbook, device: str) -> int:
    """The seq for the next operation that this desk writes as `device` [count]."""
    with logbook.lock:
        names = logbook.page_names(f"devices/{device}")
        seqs = [int(entry["seq"]) for entry in logbook.table(names[-1], "receipts").values()] if names else []
        return max(seqs, default=0) + 1
