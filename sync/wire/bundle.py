"""The text file carried by hand and its receipt: the frame around op lines when there is no network.

Nothing here files a line or judges an operation; `intake` does, with the same function as for the network.

A bundle is `layby-bundle 1 <device> <part>/<parts>`, op lines, `blob <sha256> <offset> <base64>` lines, and `end
<lines> <sha256>`. The hash covers the lines in between, each with a line feed. A receipt has the same frame. Its lines
are `<sha256> <JSON>`: one for each op line and piece of the bundle, one for each of up to ten lines that are neither,
and one that says how many more there are.
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
# A part as the phone writes it has 2 MB; a single photo may make it longer.
PART_BYTES = 16 * 1024 * 1024
# A few faults help a person; a file of noise has one on every line.
FAULTS_LISTED = 10
# A file is read only up to as many lines as entries would fill its size: an entry has more than 200 bytes, and a mail
# program may add an empty line after each. Noise in short lines would otherwise take many times its own size.
LINE_BYTES = 100
LINES_FREE = 200
_MARK = b"\xef\xbb\xbf"
_HEAD = re.compile(rb"layby-bundle 1 ([0-9a-f]{4,64}) ([0-9]{1,4}/[0-9]{1,4})")
_END = re.compile(rb"end ([0-9]{1,9}) ([0-9a-f]{64})")
_BLOB = re.compile(rb"blob ([0-9a-f]{64}) ([0-9]{1,9}) ([A-Za-z0-9+/]+={0,2})")


@dataclass(frozen=True, slots=True)
class Piece:
    """One blob line: a stretch of a photo from an offset on [bytes]. The photo is named by the SHA-256 of the whole."""

    photo: str
    offset: int
    content: bytes


@dataclass
class Bundle:
    """What a bundle holds, by line number in the file: op lines, pieces of photos, and the codes of at most ten faults.

    `more` counts the lines from `more_from` on that are neither, or were not read, and have no fault of their own.
    """

    device: str = UNKNOWN
    part: str = "1/1"
    lines: dict[int, bytes] = field(default_factory=dict)
    pieces: dict[int, Piece] = field(default_factory=dict)
    faults: dict[int, str] = field(default_factory=dict)
    more: int = 0
    more_from: int = 0

    def name(self, number: int, code: str) -> None:
        """One more fault; after the tenth they are only counted."""
        if len(self.faults) < FAULTS_LISTED:
            self.faults[number] = code
        else:
            self.count(number, 1)

    def count(self, number: int, lines: int) -> None:
        """This many more lines, from this one on, that aren't named one by one."""
        self.more_from = min(self.more_from or number, number)
        self.more += lines

    def name_last(self, number: int, code: str) -> None:
        """The fault of the file as a whole, which is always named."""
        if len(self.faults) == FAULTS_LISTED:
            last = max(self.faults)
            del self.faults[last]
            self.count(last, 1)
        self.faults[number] = code


def read(text: bytes) -> Bundle:
    """Take a bundle apart; what isn't intact is named, and the rest is kept.

    Args:
        text: the file [bytes]

    Returns:
        its op lines, its pieces of photos and its faults: no_bundle_head, not_a_line, part_cut_short, part_altered
        [Bundle]
    """
    bundle, start = Bundle(), len(_MARK) if text.startswith(_MARK) else 0
    stop = _line_end(text, max(start, len(text.rstrip())), len(text))
    last = text.rfind(b"\n", start, stop) + 1 or start
    head = _HEAD.fullmatch(_line(text, start, _line_end(text, start, stop)))
    end = _END.fullmatch(_line(text, last, stop))
    number = 1 if head is None else 2
    if head is None:
        bundle.name(1, "no_bundle_head")
    else:
        bundle.device, bundle.part = head[1].decode("ascii"), head[2].decode("ascii")
        start = _line_end(text, start, stop) + 1
    count, of_all = _sort_lines(text, (start, stop if end is None else last), number, bundle)
    if end is None:
        bundle.name_last(number + count, "part_cut_short")
    elif (int(end[1]), end[2].decode("ascii")) != (count, of_all):
        bundle.name_last(number + count, "part_altered")
    return bundle


def _line_end(text: bytes, start: int, stop: int) -> int:
    end = text.find(b"\n", start, stop)
    return stop if end < 0 else end


def _line(text: bytes, start: int, end: int) -> bytes:
    return text[start:end].removesuffix(b"\r")


def _sort_lines(text: bytes, stretch: tuple[int, int], number: int, bundle: Bundle) -> tuple[int, str]:
    """Sort the lines of a stretch, the first of which has a number; returns their count and the hash over them."""
    (start, stop), most = stretch, LINES_FREE + len(text) // LINE_BYTES
    count, running = 0, hashlib.sha256()
    while start < stop and count < most:
        end = _line_end(text, start, stop)
        line = _line(text, start, end)
        _sort(line, number + count, bundle)
        running.update(line)
        running.update(b"\n")
        start, count = end + 1, count + 1
    unread = text.count(b"\n", start, stop) + (text[stop - 1 : stop] != b"\n") if start < stop else 0
    if unread:
        bundle.count(number + count, unread)
    return count + unread, running.hexdigest()


def _sort(line: bytes, number: int, bundle: Bundle) -> None:
    photo = _piece(line)
    if photo is not None:
        bundle.pieces[number] = photo
    elif op_line.is_framed(line):
        bundle.lines[number] = line
    elif number not in bundle.faults:
        bundle.name(number, "not_a_line")


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
        bundle: the parsed bundle [Bundle]
        results: what happened to each line, in the order of the lines [list]

    Returns:
        the file to carry back to the phone [UTF-8 bytes]
    """
    running = hashlib.sha256()
    text = bytearray(f"layby-receipt 1 {bundle.device} {bundle.part}\n".encode("ascii"))
    for result in results:
        line = op_line.line(result)
        running.update(line)
        text += line
    return bytes(text) + f"end {len(results)} {running.hexdigest()}\n".encode("ascii")


def digest(content: bytes) -> str:
    """The SHA-256 that names a photo and closes a part [64 hex digits]."""
    return hashlib.sha256(content).hexdigest()
