"""A backup restored into a folder of its own, and then read through: the logbook that is in use is never touched.

Nothing here chooses a folder or words anything.
"""

from __future__ import annotations

from pathlib import Path

from sync.kernel.books import Rulebook
from sync.records.logbook import Logbook
from sync.work.restore import Restored, restore


class RestoredApart(Restored):
    """What was restored; `damaged` is how many stretches of its journal don't read back."""

    damaged: int


def restore_apart(file: Path, folder: Path, rulebook: Rulebook) -> RestoredApart:
    """Make a logbook's folder from a backup and read every record in it.

    Args:
        file: the backup [path]
        folder: must be empty or not exist [path]
        rulebook: the rulebook [Rulebook]

    Returns:
        what there is now [RestoredApart]

    Raises:
        BackupUnreadable, BackupDamaged, FolderNotEmpty, FolderBusy, OSError: as from `restore`; nothing is there then.
    """
    restored = restore(file, folder)
    with Logbook(folder, rulebook) as logbook:
        logbook.look_through()
        return {**restored, "damaged": len(logbook.store.damage)}
