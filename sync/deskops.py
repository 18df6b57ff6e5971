"""Operations that the desk itself writes, filed through the same intake as a phone's.

It knows no command and no page; what an operation means is the fold's affair.
"""

from __future__ import annotations

import secrets
from typing import Any

from sync import oplines
from sync.errors import LaybyError
from sync.intake import receive
from sync.logbook import Logbook
from sync.receipts import next_seq

DEVICE = "de5c"


class NotFiled(LaybyError):
    """The logbook did not take an operation of the desk."""

    code = "not_filed"


def new_id(at_ms: int) -> str:
    """A fresh id that sorts by its time.

    Args:
        at_ms: now [ms since 1970]

    Returns:
        a UUIDv7 [text]

    Source: RFC 9562, section 5.7.
    """
    number = (at_ms & (1 << 48) - 1) << 80 | 7 << 76 | secrets.randbits(12) << 64 | 2 << 62 | secrets.randbits(62)
    text = f"{number:032x}"
    return "-".join((text[:8], text[8:12], text[12:16], text[16:20], text[20:]))


def write(logbook: Logbook, visit: str, kind: str, body: dict[str, Any], when: tuple[int, int]) -> str:
    """File one operation that sets nothing on top of another.

    Args:
        logbook: where it is filed [object]
        visit: the visit's id [UUIDv7]
        kind: what it does, such as "sheet.approve" [code]
        body: its body [JSON object]
        when: now and the local offset [ms since 1970, minutes]

    Returns:
        the operation's id [UUIDv7]

    Raises:
        NotFiled: the logbook refused it or has to wait for its visit.
    """
    at_ms, offset = when
    # Number and filing belong together, else two desks' operations could bear one number.
    with logbook.writing():
        op = {"id": new_id(at_ms), "device": DEVICE, "seq": next_seq(logbook, DEVICE), "schema": 1, "visit": visit,
              "kind": kind, "base": {}, "body": body, "at": at_ms, "tz": offset}
        result = receive(logbook, oplines.line(op), at_ms)["results"][0]
    if result["status"] not in ("accepted", "conflict"):
        raise NotFiled(visit=visit, why=str((result.get("problem") or {}).get("detail") or result["status"]))
    return str(op["id"])
