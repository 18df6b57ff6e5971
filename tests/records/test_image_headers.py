"""Heads of photos: kind and size against what an independent library writes, and hostile heads that give none."""

from __future__ import annotations

import io
import random

import pytest
from PIL import Image

from sync.records.image_headers import NotAPhoto, head_of

TYPES = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}


def picture(form: str, size: tuple[int, int], **options: object) -> bytes:
    """A picture as Pillow writes it."""
    out = io.BytesIO()
    Image.new("RGB", size, (90, 120, 60)).save(out, form, **options)
    return out.getvalue()


@pytest.mark.parametrize("size", [(1, 1), (1600, 1200), (7, 4001)])
@pytest.mark.parametrize(
    ("form", "options"),
    [
        ("JPEG", {}),
        ("JPEG", {"progressive": True}),
        ("JPEG", {"exif": b"Exif\x00\x00" + b"\x00" * 4000, "comment": b"driveway"}),
        ("PNG", {}),
        ("WEBP", {}),
        ("WEBP", {"lossless": True}),
        ("WEBP", {"exif": b"Exif\x00\x00II*\x00\x08\x00\x00\x00\x00\x00"}),
    ],
)
def test_kind_and_size_are_read_as_another_library_wrote_them(
    form: str, options: dict[str, object], size: tuple[int, int]
) -> None:
    """Pillow writes, the head is read: baseline and progressive, with and without metadata, lossy and lossless."""
    head = head_of(picture(form, size, **options))
    assert (head.media_type, head.width, head.height) == (TYPES[form], *size)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"%PDF-1.7",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"GIF89a\x01\x00\x01\x00",
        b"\xff\xd8\xff",
        b"\xff\xd8\xff\xe0\x00\x00\x00\x00",
        b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x00\x00\x00\x00\x00\x05",
        b"RIFF\x00\x00\x00\x00WEBPVP8X",
        b"RIFF\x00\x00\x00\x00WEBPVP8L\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00",
    ],
)
def test_what_is_no_photo_is_named(content: bytes) -> None:
    """Other kinds of file, and heads that end before the size or give none."""
    with pytest.raises(NotAPhoto):
        head_of(content)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_a_damaged_head_gives_a_size_or_is_named(form: str) -> None:
    """Seeded damage anywhere in the first 200 bytes, and every shorter cut: no other error, no endless search."""
    dice = random.Random(8)
    whole = picture(form, (64, 48))
    for cut in range(min(len(whole), 200)):
        broken = bytearray(whole)
        broken[dice.randrange(min(len(whole), 200))] = dice.randrange(256)
        for content in (whole[:cut], bytes(broken)):
            try:
                head = head_of(content)
            except NotAPhoto:
                continue
            assert head.width >= 1
            assert head.height >= 1
