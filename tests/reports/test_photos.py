"""Photos made small and clean for the sheet: upright, without metadata, limited before anything is decoded.

Orientation values by the Exif standard, CIPA DC-008, tag 0x0112 (6: turned a quarter clockwise for viewing), from
memory. The pictures are drawn here.
"""

from __future__ import annotations

import random
import struct
import zlib
from io import BytesIO

import pytest
from PIL import Image

from reports.photos import LONGEST_PX, Unusable, derived

RED, BLUE = (200, 20, 20), (20, 20, 200)


def halves(width: int, height: int) -> Image.Image:
    """Left half red, right half blue."""
    picture = Image.new("RGB", (width, height), RED)
    picture.paste(BLUE, (width // 2, 0, width, height))
    return picture


def coded(picture: Image.Image, kind: str, **how: object) -> bytes:
    """The bytes of a picture in a format."""
    kept = BytesIO()
    picture.save(kept, kind, **how)  # type: ignore[arg-type]
    return kept.getvalue()


def opened(content: bytes) -> Image.Image:
    """A JPEG, decoded."""
    picture = Image.open(BytesIO(content))
    assert picture.format == "JPEG"
    picture.load()
    return picture


def near(found: object, wanted: tuple[int, int, int]) -> bool:
    """Whether a colour survived the coding."""
    assert isinstance(found, tuple)
    return all(abs(a - b) < 30 for a, b in zip(found, wanted, strict=True))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_every_allowed_format_becomes_a_small_jpeg(kind: str) -> None:
    """Scaled to the longest side, keeping proportions and colours."""
    small = opened(derived(coded(halves(3000, 1500), kind)))
    assert small.size == (LONGEST_PX, LONGEST_PX // 2)
    assert near(small.getpixel((50, 200)), RED)
    assert near(small.getpixel((LONGEST_PX - 50, 200)), BLUE)


def test_a_small_picture_is_not_blown_up() -> None:
    """Fewer pixels than allowed stay as many."""
    assert opened(derived(coded(halves(120, 80), "PNG"))).size == (120, 80)


def test_a_photo_taken_upright_is_upright() -> None:
    """Orientation 6 is applied, so that red is on top, and then dropped."""
    exif = Image.Exif()
    exif[0x0112] = 6
    small = opened(derived(coded(halves(1600, 800), "JPEG", exif=exif)))
    assert small.size == (LONGEST_PX // 2, LONGEST_PX)
    assert near(small.getpixel((200, 100)), RED)
    assert near(small.getpixel((200, LONGEST_PX - 100)), BLUE)
    assert dict(small.getexif()) == {}


def test_nothing_that_travelled_with_the_photo_is_kept() -> None:
    """Camera, place, comment and colour profile are not in the bytes of the copy."""
    exif = Image.Exif()
    exif[0x010F] = "CANARY camera"
    exif[0x8825] = {1: "N", 2: (54.0, 1.0, 2.0)}
    small = derived(coded(halves(900, 600), "JPEG", exif=exif, comment=b"CANARY comment", icc_profile=b"CANARY" * 20))
    assert b"CANARY" not in small
    assert b"Exif" not in small
    assert set(opened(small).info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


@pytest.mark.parametrize("mode", ["RGBA", "LA", "P", "L", "1", "CMYK", "I;16"])
def test_any_kind_of_pixel_is_drawn(mode: str) -> None:
    """Grey, palette, print colours, transparency: each becomes a picture in red, green and blue."""
    kind = "JPEG" if mode == "CMYK" else "PNG"
    picture = Image.new(mode, (60, 40)) if mode == "I;16" else halves(60, 40).convert(mode)
    assert opened(derived(coded(picture, kind))).mode == "RGB"


def test_transparent_places_are_white() -> None:
    """Transparent areas show paper."""
    clear = Image.new("RGBA", (60, 40), (0, 0, 0, 0))
    assert near(opened(derived(coded(clear, "PNG"))).getpixel((30, 20)), (255, 255, 255))


def png_that_claims(width: int, height: int) -> bytes:
    """A PNG of a few bytes that claims to be this large (PNG specification, sections 5 and 11.2.2)."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0")) + chunk(b"IEND", b"")


@pytest.mark.parametrize(("width", "height"), [(8000, 5001), (12_000, 12_000), (60_000, 60_000)])
def test_too_many_pixels_are_refused_by_what_the_head_says(width: int, height: int) -> None:
    """A file of a few bytes that would unpack to gigabytes isn't decoded."""
    with pytest.raises(Unusable) as refused:
        derived(png_that_claims(width, height))
    assert refused.value.code == "too_many_pixels"


@pytest.mark.parametrize("content", [
    b"", b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"%PDF-1.7", coded(halves(9, 9), "GIF"),
    coded(halves(9, 9), "TIFF"), coded(halves(9, 9), "BMP"), b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n",
])
def test_what_is_no_photo_is_named(content: bytes) -> None:
    """By its bytes, not by its name."""
    with pytest.raises(Unusable) as refused:
        derived(content)
    assert refused.value.code == "not_a_picture"


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_that_breaks_off_is_named(kind: str) -> None:
    """Nobody should see half a picture from half the bytes."""
    noise = Image.frombytes("RGB", (300, 200), random.Random(7).randbytes(300 * 200 * 3))
    whole = coded(noise, kind)
    with pytest.raises(Unusable) as refused:
        derived(whole[: len(whole) // 2])
    assert refused.value.code in ("damaged_picture", "not_a_picture")


def test_a_photo_that_breaks_off_is_named_where_the_renderer_was_loaded_before() -> None:
    """WeasyPrint accepts such pictures in the whole process; a sheet after the first must still refuse them."""
    import weasyprint  # noqa: F401 -- loaded for what it does to Pillow

    whole = coded(Image.frombytes("RGB", (300, 200), random.Random(7).randbytes(300 * 200 * 3)), "JPEG")
    with pytest.raises(Unusable) as refused:
        derived(whole[: len(whole) // 2])
    assert refused.value.code == "damaged_picture"


def test_the_same_photo_gives_the_same_bytes() -> None:
    """So the same sheet stays the same file."""
    content = coded(halves(700, 500), "WEBP")
    assert derived(content) == derived(content)
