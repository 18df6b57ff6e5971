"""The op line: `<sha256 hex> <JSON>` and a line feed, the same on the phone, on the network and in the journal.

Nothing here judges an operation or writes its JSON again: the hash covers the author's own bytes.
"""

from __future__ import annotations

import hashlib
import json
import re
import secrets
from typing import TypedDict, TypeGuard

from sync.errors import LaybyError
from sync.kernel.json_tree import Json
from sync.kernel.operation import Op
from sync.wire.json_parsing import ParseFault, parse
from sync.wire.responses import LineResult

OP_BYTES = 128 * 1024
# The desk's name where it writes an operation of its own; no phone has it.
DESK = "de5c"
DIGEST_LENGTH = 64
# The years 1 to 9999 in UTC, the only ones that become dates here; a UUID version 7 holds instants up to the year
# 10889.
FIRST_MS, LAST_MS = -62_135_596_800_000, 253_402_300_799_999
_LAST_INSTANT = f"{LAST_MS:012x}"[:8] + "-" + f"{LAST_MS:012x}"[8:]  # as a UUID version 7 begins

_FRAME = re.compile(rb"[0-9a-f]{64} .", re.DOTALL)
_UUID7 = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")
_DEVICE = re.compile(r"[0-9a-f]{4,64}")
ID_WRITTEN = f"^{_UUID7.pattern}$"
DEVICE_WRITTEN = f"^{_DEVICE.pattern}$"
_DIGEST = re.compile(r"[0-9a-f]{64}")


class Outline(TypedDict):
    """Who wrote an operation that may be invalid; None if that is missing or not valid."""

    id: str | None
    device: str | None
    seq: int | None
    visit: str | None


class NotLines(LaybyError):
    """A body that isn't made of op lines; `line` is the first one that isn't, counted from 1."""

    code = "not_lines"


class Damaged(LaybyError):
    """An op line whose hash doesn't match its JSON bytes."""

    code = "damaged"


def digest(json_bytes: bytes) -> str:
    """The SHA-256 of an operation's JSON bytes [64 hex digits]."""
    return hashlib.sha256(json_bytes).hexdigest()


def line(content: Op | LineResult) -> bytes:
    """Writes an operation of our own, or a line of a receipt, once and for all.

    Args:
        content: the operation, or what happened to a line [JSON object]

    Returns:
        Its op line with the line feed [UTF-8 bytes]
    """
    json_bytes = json.dumps(content, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode("utf-8")
    return digest(json_bytes).encode("ascii") + b" " + json_bytes + b"\n"


def split(body: bytes) -> list[bytes]:
    """The op lines of a body, in order, without their line feeds.

    Args:
        body: op lines, each ended by a line feed (CR LF is accepted, and so is a missing last one) [bytes]

    Returns:
        At least one line; only its frame has been checked, not its hash [list of bytes]

    Raises:
        NotLines: no line at all, or one without the frame `<64 hex digits> <JSON>`.
    """
    lines = [piece.removesuffix(b"\r") for piece in body.split(b"\n")]
    if lines[-1] == b"":
        lines.pop()
    if not lines:
        raise NotLines(line=1)
    for place, piece in enumerate(lines, 1):
        if not _FRAME.match(piece):
            raise NotLines(line=place)
    return lines


def is_framed(piece: bytes) -> bool:
    """Whether a line has the frame of an op line; its hash may still be wrong."""
    return _FRAME.match(piece) is not None


def parts(piece: bytes) -> tuple[str, bytes]:
    """The digest a line claims and its JSON bytes, not yet compared [hex, bytes].

    Raises:
        NotLines: the frame is missing.
    """
    piece = piece.rstrip(b"\r\n")
    if not _FRAME.match(piece):
        raise NotLines(line=1)
    return piece[:DIGEST_LENGTH].decode("ascii"), piece[DIGEST_LENGTH + 1 :]


def read(piece: bytes) -> tuple[str, bytes]:
    """The digest and the JSON bytes of an intact line [hex, bytes].

    Raises:
        NotLines: the frame is missing.
        Damaged: the hash doesn't match the bytes.
    """
    claimed, json_bytes = parts(piece)
    actual = digest(json_bytes)
    if actual != claimed:
        raise Damaged(claimed=claimed, found=actual)
    return claimed, json_bytes


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


def is_id(value: Json) -> TypeGuard[str]:
    """Whether a value is a UUID version 7 in lower case (RFC 9562, section 5.7)."""
    return isinstance(value, str) and _UUID7.fullmatch(value) is not None


def is_device(value: Json) -> TypeGuard[str]:
    """Whether a value is a device's name: 4 to 64 lower-case hexadecimal digits."""
    return isinstance(value, str) and _DEVICE.fullmatch(value) is not None


def is_digest(value: Json) -> TypeGuard[str]:
    """Whether a value is a SHA-256 in lower-case hexadecimal digits."""
    return isinstance(value, str) and _DIGEST.fullmatch(value) is not None


def made_ms(identifier: str) -> int:
    """The instant in a UUID version 7 [milliseconds since 1970, by its maker's clock]."""
    return int(identifier[:8] + identifier[9:13], 16)


def in_calendar(at_ms: int) -> bool:
    """Whether an instant lies in the years 1 to 9999 [ms since 1970]."""
    return FIRST_MS <= at_ms <= LAST_MS


def is_beyond_calendar(identifier: str) -> bool:
    """Whether a UUID version 7 has an instant beyond the year 9999; its digits sort as the instants do."""
    return identifier[:13] > _LAST_INSTANT


def outline(json_bytes: bytes) -> Outline:
    """Who wrote an operation that may be invalid, as far as it can be told.

    Args:
        json_bytes: the operation's JSON as it came [bytes]

    Returns:
        its id, device, seq and visit [Outline]
    """
    try:
        return outline_of(parse(json_bytes))
    except ParseFault as error:
        return outline_of(error.tree)


def outline_of(op: Json) -> Outline:
    """The same for JSON that has already been read [Outline]."""
    members = op if isinstance(op, dict) else {}
    identifier, device, seq, visit = (members.get(name) for name in ("id", "device", "seq", "visit"))
    return {
        "id": identifier if is_id(identifier) else None,
        "device": device if is_device(device) else None,
        "seq": seq if isinstance(seq, int) and not isinstance(seq, bool) and seq >= 0 else None,
        "visit": visit if is_id(visit) else None,
    }
