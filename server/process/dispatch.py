"""The desk's work as a command asks for it: which folder, and whether it is done here or by the service that holds it.

No work is done here, and nothing slow is imported before it is needed.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import Any, Unpack

from server.tasks.messages import TaskArguments


def folder_of(arguments: argparse.Namespace) -> Path:
    """The logbook's folder: `--folder`, else LAYBY_FOLDER, else ~/layby [path]."""
    folder = arguments.folder or os.environ.get("LAYBY_FOLDER")
    return Path(folder).expanduser() if folder else Path.home() / "layby"


def desk(arguments: argparse.Namespace, name: str, **options: Unpack[TaskArguments]) -> Any:
    """Do a piece of the desk's work on the folder, here or in the service that holds it."""
    from server.process import remote
    from server.process.records_at import open_logbook
    from server.tasks.catalogue import carry_out
    from sync import rulebook

    folder = folder_of(arguments)

    def here() -> Any:
        with open_logbook(folder, rulebook.load()) as logbook:
            return carry_out(logbook, name, options)

    return remote.run_or_hand_over(folder, name, options, here)
