"""What the demo's phone photographs and how its customers sign: pictures drawn by the demo, strokes made from a name.

Nothing here is a photo of anything real; the same scene and seed give the same picture.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from io import BytesIO

from PIL import Image, ImageDraw

SIZE = (1200, 900)
Pen = ImageDraw.ImageDraw


def photo(scene: str, seed: str) -> bytes:
    """A drawn scene as the JPEG that a phone would keep.

    Args:
        scene: one of SCENES [text]
        seed: what it belongs to; the same scene elsewhere differs in its details [text]

    Returns:
        the picture [bytes]

    Raises:
        KeyError: an unknown scene.
    """
    picture = Image.new("RGB", SIZE, (206, 209, 205))
    SCENES[scene](ImageDraw.Draw(picture), random.Random(scene + seed))
    kept = BytesIO()
    picture.save(kept, "JPEG", quality=82)
    return kept.getvalue()


def _condenser(pen: Pen) -> None:
    """Tubes across and fins between them, in a frame."""
    pen.rectangle((60, 90, 1140, 810), fill=(96, 100, 104))
    for y in range(110, 800, 46):
        pen.rectangle((80, y, 1120, y + 34), fill=(152, 157, 160))
        for x in range(84, 1120, 9):
            pen.line((x, y + 2, x + 4, y + 32), fill=(118, 123, 127), width=2)
    for x in (60, 1104):
        pen.rectangle((x, 80, x + 36, 820), fill=(70, 73, 77))


def _face_clean(pen: Pen, _: random.Random) -> None:
    _condenser(pen)
    for x in range(140, 1100, 190):
        pen.line((x, 120, x - 20, 790), fill=(196, 205, 212), width=3)


def _face_dirty(pen: Pen, drawn: random.Random) -> None:
    """The lower two thirds under seeds and dust."""
    _condenser(pen)
    for _ in range(5200):
        x, y = drawn.randint(90, 1110), 800 - abs(drawn.gauss(0, 210))
        if y > 330 or drawn.random() < 0.25:
            reach = drawn.choice((4, 7, 11))
            tint = drawn.choice([(121, 103, 74), (150, 133, 98), (94, 84, 66), (203, 197, 180)])
            pen.ellipse((x, y, x + reach, y + reach * 0.6), fill=tint)


def _label(pen: Pen, _: random.Random) -> None:
    """A sticker under a hood, with bars in place of words."""
    pen.rectangle((0, 0, *SIZE), fill=(58, 61, 64))
    pen.rectangle((190, 200, 1010, 690), fill=(240, 236, 214), outline=(30, 30, 30), width=6)
    pen.rectangle((230, 240, 970, 300), fill=(40, 40, 40))
    for row, width in enumerate((560, 660, 480, 610, 380)):
        pen.rectangle((230, 350 + row * 56, 230 + width, 374 + row * 56), fill=(92, 92, 92))
    pen.polygon([(860, 640), (960, 640), (910, 555)], fill=(226, 178, 38), outline=(30, 30, 30))


def _port(pen: Pen, drawn: random.Random) -> None:
    """A service port without its cap, with oil around it."""
    pen.rectangle((0, 0, *SIZE), fill=(74, 77, 80))
    pen.line((0, 610, 1200, 470), fill=(170, 174, 178), width=120)
    for _ in range(60):
        x, y = drawn.gauss(600, 120), drawn.gauss(600, 60)
        pen.ellipse((x, y, x + 70, y + 40), fill=(66, 60, 42))
    pen.rectangle((540, 300, 660, 540), fill=(188, 160, 92), outline=(60, 50, 30), width=5)
    pen.ellipse((540, 270, 660, 330), fill=(214, 186, 118), outline=(60, 50, 30), width=5)
    pen.ellipse((578, 288, 622, 312), fill=(36, 32, 22))


SCENES: dict[str, Callable[[Pen, random.Random], None]] = {
    "face_clean": _face_clean, "face_dirty": _face_dirty, "label": _label, "port": _port,
}


def strokes(name: str) -> list[list[list[float]]]:
    """A signature for a name: later letters have taller loops; one stroke per word, and a flourish.

    Args:
        name: who signs [text]

    Returns:
        each stroke as a row of [x, y] places, y downward [phone pixels]
    """
    found: list[list[list[float]]] = []
    x = 20.0
    for word in name.split():
        stroke: list[list[float]] = []
        for place, letter in enumerate(word):
            height = 34.0 if place == 0 else 9.0 + ord(letter.lower()) % 7 * 2.4
            for share in range(8):
                turn = share / 8.0
                # Up, around and down again: a curve through four corners, leaning to the right.
                lift = height * (1.0 - abs(2.0 * turn - 1.0))
                stroke.append([round(x + 13.0 * turn + lift * 0.25, 1), round(90.0 - lift, 1)])
            x += 11.0
        found.append(stroke)
        x += 14.0
    found.append([[16.0, 104.0], [x * 0.6, 99.0], [x + 12.0, 108.0]])
    return found
