"""Photos drawn for the tests of sheets: a JPEG of any size in pixels and, nearly, in bytes.

No test lives here; nothing in the pictures is real.
"""

from __future__ import annotations

import hashlib
import random
from io import BytesIO

from PIL import Image, ImageDraw


def photo(seed: int, width: int = 800, height: int = 600, noise_rows: int = 0) -> bytes:
    """A drawn scene as a camera's JPEG: a car's outline under a sky, in colours from its seed.

    Args:
        seed: which scene [number]
        width: pixels across [count]
        height: pixels down [count]
        noise_rows: rows of pure noise at the bottom, which no coder can shrink [count]

    Returns:
        a JPEG [bytes]
    """
    drawn = random.Random(seed)
    tint = tuple(drawn.randrange(60, 220) for _ in range(3))
    picture = Image.new("RGB", (width, height), (214, 224, 232))
    pen = ImageDraw.Draw(picture)
    pen.rectangle((0, height * 0.7, width, height), fill=(120, 118, 112))
    pen.rectangle((width * 0.15, height * 0.45, width * 0.85, height * 0.72), fill=tint)
    pen.polygon([(width * 0.28, height * 0.45), (width * 0.38, height * 0.28), (width * 0.62, height * 0.28),
                 (width * 0.74, height * 0.45)], fill=tint)
    for left in (0.22, 0.66):
        wheel = (width * left, height * 0.64, width * (left + 0.12), height * 0.64 + width * 0.12)
        pen.ellipse(wheel, fill=(30, 30, 32))
    if noise_rows:
        rows = Image.frombytes("RGB", (width, noise_rows), drawn.randbytes(width * noise_rows * 3))
        picture.paste(rows, (0, height - noise_rows))
    kept = BytesIO()
    picture.save(kept, "JPEG", quality=90)
    return kept.getvalue()


def digest(content: bytes) -> str:
    """The name of a photo [SHA-256 in hex]."""
    return hashlib.sha256(content).hexdigest()
