"""Who on this machine may look into the logbook's folder, and what its owner types to shut others out.

Nothing here changes a folder. Standard library only, because `layby check` runs where nothing is installed yet.
"""

from __future__ import annotations

import os
import shlex
import stat
from pathlib import Path

OF_OTHERS = stat.S_IRWXG | stat.S_IRWXO


def command_to_shut(folder: Path) -> str | None:
    """What to type if others than its owner may look into a folder or enter it.

    Args:
        folder: the logbook's folder [path]

    Returns:
        the command; None if nobody else may, if there is no folder yet, and on Windows, which manages rights
        differently [text or None]
    """
    if os.name == "nt":
        return None
    try:
        mode = folder.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return None
    return f"chmod 700 {shlex.quote(str(folder))}" if mode & OF_OTHERS else None
