"""Files carried by hand, hostile in every part: given to `layby receive` as a person would, one or several at once.

Nothing here says how a file is read; the command's answer is returned as it came.
"""

from __future__ import annotations

import random
from pathlib import Path

from tests.hostile.folders import came_of
from tests.hostile.words import bundle, disturbed

DEVICE = "7e57"
NAMES = ("part.txt", "part", ".txt", "-", "part.txt.txt", "ä\u202e.txt", "a" * 200 + ".txt", "a b;c'.txt", "-x.txt")


def receive(folder: Path, place: Path, seed: int) -> tuple[str, str]:
    """Carry one to three files in by the command.

    Args:
        folder: the logbook's [path]
        place: an empty folder for the files and their receipts [path]
        seed: which files [number]

    Returns:
        "done", "told", "refused", "trace" or "logged trace", and what was said [texts]
    """
    dice = random.Random(f"carried {seed}")
    place.mkdir()
    names = []
    for name in dice.sample(NAMES, dice.choice((1, 1, 2, 3))):
        content = bundle(dice, dice.choice((DEVICE, DEVICE, "de5c", "cafe")))
        content = dice.choice((content, content, disturbed(dice, content), content.replace(b"\n", b"\r\n")))
        (place / name).write_bytes(content)
        names.append(str(place / name))
    names += dice.choice(([], [], [], names[:1], [str(place)], [str(place / "none.txt")]))
    return came_of("receive", folder, names)
