"""Operations as a phone of our own making would write them, for the tests of the records.

No test lives here, and nothing here imitates a part of Layby: ids, digests and lines are made from the published rules
(RFC 9562 section 5.7, FIPS 180-4) and the op line's own description.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

JUNE_12 = 1_781_280_300_000  # 2026-06-12T16:05:00Z, 09:05 in Alder Coast [ms since 1970]
STARTED = "2026-06-12T09:05:00-07:00"


def uuid7(ms: int, number: int) -> str:
    """A UUID version 7 with an instant and a number instead of chance, so that every run makes the same one."""
    text = f"{ms:012x}7{number >> 62 & 0xFFF:03x}{0x8000_0000_0000_0000 | number & 0x3FFF_FFFF_FFFF_FFFF:016x}"
    return "-".join((text[:8], text[8:12], text[12:16], text[16:20], text[20:]))


def line_of(op: Any) -> bytes:
    """The op line of any JSON value."""
    return framed(json.dumps(op, ensure_ascii=False).encode())


def framed(json_bytes: bytes) -> bytes:
    """The op line of bytes that may not be JSON at all."""
    return hashlib.sha256(json_bytes).hexdigest().encode() + b" " + json_bytes + b"\n"


class Phone:
    """A device that counts its operations; `ms` is its clock, which may be wrong."""

    def __init__(self, device: str = "a1de0c0a57", ms: int = JUNE_12) -> None:
        self.device = device
        self.ms = ms
        self.seq = 0

    def new_id(self) -> str:
        """A fresh id of this device."""
        self.ms += 1
        return uuid7(self.ms, int(self.device, 16) % (1 << 40) * 1_000_000 + self.seq)

    def op(self, visit: str | None, kind: str, body: Any, base: dict[str, str | None] | None = None) -> dict[str, Any]:
        """One operation; `base` is {} unless given."""
        self.seq += 1
        made = {"id": self.new_id(), "device": self.device, "seq": self.seq, "schema": 1, "visit": visit, "kind": kind}
        return made | {"base": base or {}, "body": body, "at": self.ms, "tz": -420}

    def opening(self, visit: str, started_at: str = STARTED) -> dict[str, Any]:
        """visit.open with only the start."""
        return self.op(visit, "visit.open", {"started_at": started_at}, {"/started_at": None})

    def plate(self, visit: str, plate: str, base: str | None = None) -> dict[str, Any]:
        """visit.set of the plate."""
        return self.op(visit, "visit.set", {"vehicle": {"plate": plate}}, {"/vehicle/plate": base})

    def test(self, visit: str, test_id: str = "b1", **readings: Any) -> dict[str, Any]:
        """test.add, a BEFORE test with readings."""
        body = {"id": test_id, "role": "before", "at": STARTED, "readings": readings}
        return self.op(visit, "test.add", body)


    def beside(self, kind: str, base: dict[str, str | None] | None = None, /, **body: Any) -> dict[str, Any]:
        """One operation beside the visits: vehicle.set, customer.set, baseline.mark, customer.merge."""
        return self.op(None, kind, body, base)


def body_of(*ops: Any) -> bytes:
    """The body of a batch."""
    return b"".join(line_of(op) for op in ops)
