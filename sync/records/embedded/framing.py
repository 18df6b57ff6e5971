"""How a record stands in the journal's file, and the blanks that stand where one was erased or given up.

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
# A sound record may begin behind a line feed.
RESYNC = re.compile(rb"\n(?=\d{1,9} [0-9a-f]{8} )")
_BLANK = re.compile(rb'\d{1,9} [0-9a-f]{8} 0 \d+ \{"id":null,"status":"(?:erased|lost)","digest":"([0-9a-f]{8})"\}')
# A blank begins with no more than this [bytes].
BLANK_HEAD_MOST = 120
_JSON = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"))
_EMPTY_LINE = b"0" * 64 + b" {}"


def framed(entry: Entry) -> bytes:
    """One record as it stands in the file.

    `<payload length> <crc32> <payload>` and a line feed, the payload being
    `<received ms> <result length> <result JSON> <line>`: lengths let a reader skip, the checksum tells a torn one.

    Args:
        entry: what the record holds, its line without a line feed [Entry]

    Returns:
        the record [bytes]
    """
    answer = _JSON.encode(entry.result).encode("utf-8")
    payload = b"%d %d %b %b" % (entry.received_ms, len(answer), answer, entry.line)
    return b"%d %08x %b\n" % (len(payload), zlib.crc32(payload), payload)


def unframed(piece: bytes, number: int) -> tuple[Record, int] | None:
    """The record at the start of `piece` and its whole length [bytes], or None where there is no whole, sound one."""
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
        # The checksum fits, so these are the bytes that `framed` made of a result, or a forgery of them.
        result = cast(Result, json.loads(rest[:cut]))
        check = result["digest"] if result["status"] in ("erased", "lost") else head[2].decode("ascii")
        return Record(number, int(received), result, rest[cut + 1 :], check), start + size + 1
    except (ValueError, TypeError, KeyError):
        return None


def whole_length(piece: bytes) -> int | None:
    """How long the record is that begins `piece`, by its head [bytes]; None where none begins."""
    head = HEAD.match(piece)
    return None if head is None else head.end() + int(head[1]) + 1


def claimed_check(block: bytes) -> str:
    """The check that the head of a record bears [8 hex digits]."""
    at = block.index(b" ") + 1
    return block[at : at + 8].decode("ascii")


def check_in(piece: bytes) -> str | None:
    """The check of the record that begins `piece`; of a blank, that of the record it stands for [8 hex digits]."""
    blank = _BLANK.match(piece)
    head = HEAD.match(piece)
    if blank is not None:
        return blank[1].decode("ascii")
    return None if head is None else head[2].decode("ascii")


def blank(length: int, check: str, status: Literal["erased", "lost"] = "erased") -> bytes:
    """A record that holds nothing, of a given length, to stand where another one was.

    Args:
        length: of the whole record, its line feed included [bytes]
        check: by which the other one was known [8 hex digits]
        status: why it holds nothing [code]

    Returns:
        the record; spaces and a line feed where it is too short for one [bytes]
    """

    def of_line(line: bytes) -> bytes:
        return framed(Entry(0, {"id": None, "status": status, "digest": check}, line))

    line = _EMPTY_LINE + b" " * (length - len(of_line(_EMPTY_LINE)))
    while len(record := of_line(line)) > length and len(line) > len(_EMPTY_LINE):
        # The length stands in the head as well and may have taken one more digit.
        line = line[:-1]
    return record if len(record) == length else b" " * (length - 1) + b"\n"


def is_filling(piece: bytes) -> bool:
    """Whether bytes are what stands where a blank did not fit: nothing, and no damage."""
    return not piece.strip(b" \n")
