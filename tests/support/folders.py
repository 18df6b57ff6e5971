"""A logbook's folder as it is on the disk, read without Layby's own code."""

from __future__ import annotations

import json
import re
from pathlib import Path


def records_at(folder: Path) -> list[int]:
    """The byte at which each record of an intact journal begins, by the lengths in it."""
    content = (folder / "journal.log").read_bytes()
    at, places = 0, []
    while at < len(content):
        places.append(at)
        head = re.match(rb"(\d+) [0-9a-f]{8} ", content[at : at + 19])
        assert head is not None, f"no record begins at byte {at}"
        at += head.end() + int(head[1]) + 1
    return places


def is_on_views(folder: Path) -> bool:
    """Whether the checkpoint says that the journal's last record is on its views."""
    return bool(json.loads((folder / "checkpoint.json").read_text())["number"] == records_at(folder)[-1])
