"""The cases of all worlds, drawn once and kept for the next command with the same seed; nothing is judged here."""

from __future__ import annotations

import hashlib
import pickle
import sys
from importlib import import_module
from pathlib import Path

from tests.worlds.cases import Case, cases
from tests.worlds.world import World

HERE = Path(__file__).parent
# What the cases of every world depend on.
SHARED = ("cases.py", "draws.py", "effects.py", "instruments.py", "sights.py", "world.py", "writing.py",
          "loop/fluids.py")  # fmt: skip
NAMES = ("loop", "zones", "masses")


def world_of(name: str) -> World:
    """A world by its name."""
    world: World = import_module(f"tests.worlds.{name}").WORLD
    return world


def _source(name: str) -> str:
    """A digest of the sources a world's cases depend on; they are drawn again when it changes."""
    shared = [HERE / file for file in SHARED]
    paths = {*shared, *(path for path in (HERE / name).glob("*.py") if not path.name.startswith("test_"))}
    return hashlib.sha256(b"".join(path.read_bytes() for path in sorted(paths))).hexdigest()[:12]


def stock_of(name: str, seed: int, count: int) -> list[Case]:
    """Cases of one world."""
    # In this checkout's own environment: a pickle is only safe to read where nobody else writes.
    folder = Path(sys.prefix) / "worlds"
    folder.mkdir(exist_ok=True)
    place = folder / f"layby-cases-{name}-{seed}-{count}-{_source(name)}.pickle"
    if place.exists():
        stored: list[Case] = pickle.loads(place.read_bytes())
        return stored
    fresh = cases(world_of(name), seed, count)
    place.write_bytes(pickle.dumps(fresh))
    return fresh


def stock(seed: int, count: int) -> dict[str, list[Case]]:
    """Cases of every world, by its name."""
    return {name: stock_of(name, seed, count) for name in NAMES}
