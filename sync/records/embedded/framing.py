"""How a record is written in the journal's file, and the blanks that replace one that was erased or given up.

Nothing here reads or writes a file.
"""

from __future__ import annotations

import json
import re
import zlib
from typing import Literal, cast

from sync.records.store.interface import Entry, Record
from sync.wire.results import Result

HEAD = re.compile(rb"(\d{1,9}) ([0-9a-f]{8}) ")
HEAD_MOST = 19
# An intact record may begin after a line feed.
RESYNC = re.compile(rb"\n(?=\d{1,9} [0-9a-f]{8} )")
_BLANK = re.compile(rb'\d{1,9} [0-9a-f]{8} 0 \d+ \{"id":null,"status":"(?:erased|lost)","digest":"([0-9a-f]{8})"\}')
# A blank begins with at most this [bytes].
BLANK_HEAD_MOST = 120
_JSON = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"))
_EMPTY_LINE = b"0" * 64 + b" {}"


def framed(entry: Entry) -> bytes:
    """One record as it is in the file.

    `<payload length> <crc32> <payload>` and a line feed; the payload is `<received ms> <result length> <result JSON>
    <line>`. Lengths let a reader skip, and the checksum reveals a torn record.

    Args:
        entry: the record's content, its line without a line feed [Entry]

    Returns:
        the record [bytes]
    """
    answer = _JSON.encode(entry.result).encode("utf-8")
    payload = b"%d %d %b %b" % (entry.received_ms, len(answer), answer, entry.line)
    return b"%d %08x %b\n" % (len(payload), zlib.crc32(payload), payload)


def unframed(piece: bytes, number: int) -> tuple[Record, int] | None:
    """The record at the start of `piece` and its whole length [bytes], or None if there is no complete, intact one."""
    head = HEAD.match(piece)
    if head is None:
        return None
    start, size = head.end(), int(head[1])
    payload = piece[start : start + size]
    if len(piece) <= start + size or piece[start + size] != 0x0A or zlib.crc32(payload) != int(head[2], 16):
        return None
    try:
        received, answer_size, rest = payload.split(b" ", 2)
        cut = int(answer_size)
        # The checksum fits, so these bytes are what `framed` made from a result, or a forgery of that.
        result = cast(Result, json.loads(rest[:cut]))
        check = result["digest"] if result["status"] in ("erased", "lost") else head[2].decode("ascii")
        return Record(number, int(received), result, rest[cut + 1 :], check), start + size + 1
    except (ValueError, TypeError, KeyError):
        return None


def whole_length(piece: bytes) -> int | None:
    """The length of the record at the start of `piece`, by its head [bytes]; None if none begins there."""
    head = HEAD.match(piece)
    return None if head is None else head.end() + int(head[1]) + 1


def claimed_check(block: bytes) -> str:
    """The check in the head of a record [8 hex digits]."""
    at = block.index(b" ") + 1
    return block[at : at + 8].decode("ascii")


def check_in(piece: bytes) -> str | None:
    """The check of the record at the start of `piece`; for a blank, that of the record it replaces [8 hex digits]."""
    blank = _BLANK.match(piece)
    head = HEAD.match(piece)
    if blank is not None:
        return blank[1].decode("ascii")
    return None if head is None else head[2].decode("ascii")


def blank(length: int, check: str, status: Literal["erased", "lost"] = "erased") -> bytes:
    """A record that holds nothing, of a given length, to replace another one.

    Args:
        length: of the whole record, its line feed included [bytes]
        check: the check of the record it replaces [8 hex digits]
        status: why it holds nothing [code]

    Returns:
        the record; spaces and a line feed if there is no room for one [bytes]
    """

    def of_line(line: bytes) -> bytes:
        return framed(Entry(0, {"id": None, "status": status, "digest": check}, line))

    line = _EMPTY_LINE + b" " * (length - len(of_line(_EMPTY_LINE)))
    while len(record := of_line(line)) > length and len(line) > len(_EMPTY_LINE):
        # The length is also in the head and may have gained a digit.
        line = line[:-1]
    return record if len(record) == length else b" " * (length - 1) + b"\n"


def is_filling(piece: bytes) -> bool:
    """Whether bytes are the filler used where a blank didn't fit: empty, but not damage."""
    return not piece.strip(b" \n")
