"""What a photo's own bytes say about it: its kind and its size in pixels, read from the head without decoding.

Nothing here trusts a name or a declared type, and nothing draws; a picture is never unpacked to be measured.
"""

from __future__ import annotations

from dataclasses import dataclass

from sync.errors import LaybyError

# JPEG markers that begin a frame and carry its size (ITU-T T.81, table B.1: SOF0 to SOF15 without DHT, JPG, DAC).
_FRAMES = {*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC}
# Markers that stand alone: TEM, RST0 to RST7, SOI.
_ALONE = {0x01, *range(0xD0, 0xD9)}


class NotAPhoto(LaybyError):
    """Bytes that are neither JPEG, PNG nor WebP, or whose head gives no size."""

    code = "not_a_photo"


@dataclass(frozen=True, slots=True)
class Head:
    """A photo's media type and its size [pixels]."""

    media_type: str
    width: int
    height: int


def head_of(content: bytes) -> Head:
    """The kind and size of a photo.

    Args:
        content: the whole file, or enough of it to contain its head [bytes]

    Returns:
        its media type, width and height [Head]

    Raises:
        NotAPhoto: not JPEG, PNG or WebP, or cut off before its size.

    Source: ITU-T T.81, annex B, for JPEG; W3C PNG, third edition, section 11.2.1; RFC 9649, section 2, and RFC 6386,
        section 9.1, for WebP.
    """
    if content.startswith(b"\xff\xd8\xff"):
        return _jpeg(content)
    if content.startswith(b"\x89PNG\r\n\x1a\n") and content[12:16] == b"IHDR" and len(content) >= 24:
        return _sized("image/png", int.from_bytes(content[16:20]), int.from_bytes(content[20:24]))
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return _webp(content)
    raise NotAPhoto(begins=content[:8].hex())


def _sized(media_type: str, width: int, height: int) -> Head:
    if width < 1 or height < 1:
        raise NotAPhoto(begins=f"{media_type}, {width} × {height}")
    return Head(media_type, width, height)


def _jpeg(content: bytes) -> Head:
    at = 2
    while at + 9 <= len(content) and content[at] == 0xFF:
        marker = content[at + 1]
        if marker == 0xFF:
            at += 1
        elif marker in _ALONE:
            at += 2
        elif marker in _FRAMES:
            height, width = int.from_bytes(content[at + 5 : at + 7]), int.from_bytes(content[at + 7 : at + 9])
            return _sized("image/jpeg", width, height)
        else:
            at += 2 + max(int.from_bytes(content[at + 2 : at + 4]), 2)
    raise NotAPhoto(begins=content[:8].hex())


def _webp(content: bytes) -> Head:
    form, data = content[12:16], content[20:30]
    if form == b"VP8X" and len(data) == 10:
        return _sized("image/webp", 1 + int.from_bytes(data[4:7], "little"), 1 + int.from_bytes(data[7:10], "little"))
    if form == b"VP8L" and len(data) >= 5 and data[0] == 0x2F:
        packed = int.from_bytes(data[1:5], "little")
        return _sized("image/webp", 1 + (packed & 0x3FFF), 1 + (packed >> 14 & 0x3FFF))
    if form == b"VP8 " and data[3:6] == b"\x9d\x01\x2a" and len(data) == 10:
        width, height = int.from_bytes(data[6:8], "little") & 0x3FFF, int.from_bytes(data[8:10], "little") & 0x3FFF
        return _sized("image/webp", width, height)
    raise NotAPhoto(begins=content[:16].hex())
