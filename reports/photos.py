"""Pictures for the sheet: the bytes of a photo in, a small clean JPEG out.

It keeps nothing that a camera stored beside the picture, and decodes nothing larger than allowed.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO

from PIL import Image, ImageFile, ImageOps, UnidentifiedImageError

FORMATS = ("JPEG", "PNG", "WEBP")
# Half the page's width at 240 dots per inch; more would only make the letter heavier.
LONGEST_PX = 800
PIXELS_MOST = 40_000_000
QUALITY = 80


class Unusable(Exception):
    """A picture that can't be drawn; `code` is stable: `not_a_picture`, `too_many_pixels` or `damaged_picture`."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


def derived(content: bytes) -> bytes:
    """The picture as the sheet uses it: upright, at most `LONGEST_PX` long, JPEG without any metadata.

    Where and when the camera took it, and whose it is, is left out; transparent areas become white.

    Args:
        content: a JPEG, PNG or WebP [bytes]

    Returns:
        a JPEG; the same content gives the same bytes with the same library [bytes]

    Raises:
        Unusable: it is none of the three, has more than `PIXELS_MOST` pixels, or breaks off.
    """
    with _whole_only(), _opened(content) as picture:
        if picture.width * picture.height > PIXELS_MOST:
            raise Unusable("too_many_pixels")
        # A JPEG can be decoded at a fraction of its size; other formats ignore this.
        picture.draft("RGB", (2 * LONGEST_PX, 2 * LONGEST_PX))
        try:
            picture.load()
            upright = ImageOps.exif_transpose(_small(picture))
        except (OSError, SyntaxError, ValueError) as error:
            # The decoders report damage in all three ways.
            raise Unusable("damaged_picture") from error
    small = BytesIO()
    _on_white(upright).save(small, "JPEG", quality=QUALITY)
    return small.getvalue()


def size(content: bytes) -> tuple[int, int]:
    """Width and height of a picture, without decoding it [px, px].

    Raises:
        Unusable: it can't be drawn.
    """
    with _opened(content) as picture:
        return picture.size


@contextmanager
def _whole_only() -> Iterator[None]:
    """A picture that breaks off is refused: once loaded, the renderer accepts such pictures in the whole process."""
    before = ImageFile.LOAD_TRUNCATED_IMAGES
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        yield
    finally:
        ImageFile.LOAD_TRUNCATED_IMAGES = before


def _opened(content: bytes) -> Image.Image:
    """The picture with its size read and nothing decoded yet."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            return Image.open(BytesIO(content), formats=FORMATS)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise Unusable("too_many_pixels") from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        raise Unusable("not_a_picture") from error


def _small(picture: Image.Image) -> Image.Image:
    """The picture in plain colours and no longer than allowed; a palette would be scaled without smoothing."""
    plain = picture if picture.mode in ("L", "RGB", "RGBA", "LA", "CMYK") else picture.convert("RGBA")
    plain.thumbnail((LONGEST_PX, LONGEST_PX))
    return plain


def _on_white(picture: Image.Image) -> Image.Image:
    """The picture in red, green and blue, on white where it was transparent, and free of all metadata."""
    plain = picture.convert("RGBA" if "A" in picture.mode else "RGB")
    ground = Image.new("RGB", plain.size, "white")
    ground.paste(plain, mask=plain if plain.mode == "RGBA" else None)
    return ground
