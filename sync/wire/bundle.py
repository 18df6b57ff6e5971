"""The hand-carried text file and its receipt: the frame round op lines where there is no network.

Nothing here files a line or judges an operation; `intake` does, by the same function as for the network.

A bundle is `layby-bundle 1 <device> <part>/<parts>`, op lines, `blob <sha256> <offset> <base64>` lines, `end <lines>
<sha256>`, the hash being over the lines between with a line feed each. A receipt is framed alike, its lines being
`<sha256> <JSON>`, one for each line of the bundle.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import re
from dataclasses import dataclass, field

from sync.wire import op_line
from sync.wire.responses import LineResult

UNKNOWN = "unknown"
_HEAD = re.compile(rb"layby-bundle 1 ([0-9a-f]{4,64}) ([0-9]{1,4}/[0-9]{1,4})")
_END = re.compile(rb"end ([0-9]{1,9}) ([0-9a-f]{64})")
_BLOB = re.compile(rb"blob ([0-9a-f]{64}) ([0-9]{1,9}) ([A-Za-z0-9+/]+={0,2})")


@dataclass(frozen=True, slots=True)
class Piece:
    """One blob line: a stretch of a photo, which is named by the SHA-256 of its whole, from an offset on [bytes]."""

    photo: str
    offset: int
    content: bytes


@dataclass
class Bundle:
    """What a bundle holds by line number in the file: op lines, pieces of photos, and the code of each fault."""

    device: str = UNKNOWN
    part: str = "1/1"
    lines: dict[int, bytes] = field(default_factory=dict)
    pieces: dict[int, Piece] = field(default_factory=dict)
    faults: dict[int, str] = field(default_factory=dict)


def read(text: bytes) -> Bundle:
    """Take a bundle apart; whatever is not sound is named and the rest is kept.

    Args:
        text: the file [bytes]

    Returns:
        its op lines, its pieces of photos and its faults, of no_bundle_head, not_a_line, part_cut_short, part_altered
        [Bundle]
    """
    pieces = [piece.removesuffix(b"\r") for piece in text.removeprefix(b"\xef\xbb\xbf").split(b"\n")]
    while pieces and not pieces[-1].strip():
        pieces.pop()
    bundle = Bundle()
    head = _HEAD.fullmatch(pieces[0]) if pieces else None
    if head is None:
        bundle.faults[1] = "no_bundle_head"
    else:
        bundle.device, bundle.part = head[1].decode("ascii"), head[2].decode("ascii")
    end = _END.fullmatch(pieces[-1]) if pieces else None
    inner = pieces[0 if head is None else 1 : len(pieces) if end is None else -1]
    for number, piece in enumerate(inner, 1 if head is None else 2):
        photo = _piece(piece)
        if photo is not None:
            bundle.pieces[number] = photo
        elif op_line.is_framed(piece):
            bundle.lines[number] = piece
        elif not (number == 1 and head is None):
            bundle.faults[number] = "not_a_line"
    if end is None:
        bundle.faults[len(pieces) + 1] = "part_cut_short"
    elif int(end[1]) != len(inner) or end[2].decode("ascii") != _sum(inner):
        bundle.faults[len(pieces)] = "part_altered"
    return bundle


def _piece(line: bytes) -> Piece | None:
    match = _BLOB.fullmatch(line)
    if match is None:
        return None
    try:
        return Piece(match[1].decode("ascii"), int(match[2]), base64.b64decode(match[3], validate=True))
    except binascii.Error:
        return None


def receipt(bundle: Bundle, results: list[LineResult]) -> bytes:
    """The receipt for a bundle.

    Args:
        bundle: what was taken apart [Bundle]
        results: what became of each line, in the order of the lines [list]

    Returns:
        the file to carry back to the phone [UTF-8 bytes]
    """
    lines = [op_line.line(result).removesuffix(b"\n") for result in results]
    head = f"layby-receipt 1 {bundle.device} {bundle.part}".encode("ascii")
    end = f"end {len(lines)} {_sum(lines)}".encode("ascii")
    return b"".join(piece + b"\n" for piece in (head, *lines, end))


def digest(content: bytes) -> str:
    """The SHA-256 that names a photo and closes a part [64 hex digits]."""
    return hashlib.sha256(content).hexdigest()


def _sum(lines: list[bytes]) -> str:
    return digest(b"".join(line + b"\n" for line in lines))
