"""`python -m tests.hostile.case SEED ...` damages a folder by each seed and prints the outcome of each action on it.

For fixing a case of `pending`; nothing is judged here.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from tests.hostile import folders


def show(seeds: list[int]) -> None:
    """Each action on a damaged copy of its own."""
    with tempfile.TemporaryDirectory() as name:
        sound = folders.sound_folder(Path(name) / "sound")
        for seed in seeds:
            for doing in folders.DOINGS:
                place = Path(name) / "tried"
                shutil.copytree(sound, place / "logbook")
                what = folders.damage(place / "logbook", seed)
                came, said = folders.came_of(doing, place / "logbook")
                shutil.rmtree(place)
                print(f"{what}: {doing}: {came}: {said.strip()[-200:]}", flush=True)


if __name__ == "__main__":
    show([int(word) for word in sys.argv[1:]])
