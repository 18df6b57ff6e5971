"""Where this desk's backups go and how many stay, by its settings.

Nothing is written here, and nothing slow is imported, because the command line reads it at its start.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from server import settings
from sync.records.store.files import Files

KEPT = settings.KEPT


class Place(NamedTuple):
    """The folder of dated backups, None where none is chosen, and how many stay [path or None, count]."""

    into: Path | None
    keep: int


def place_of(files: Files) -> Place:
    """Where the backups of a logbook go.

    Args:
        files: of the logbook, with its settings [Files]

    Returns:
        what its settings say [Place]

    Raises:
        BadSettings: they can't be used.
    """
    backup = settings.load(files)["backup"]
    return Place(Path(backup["into"]) if backup["into"] else None, int(backup["keep"]))
