"""Own files: files that lie in the folder itself, read by names that are made from records.

A link is never followed, because what it leads to was not kept here; nothing here knows what is in a file.
"""

from __future__ import annotations

import errno
import os
from pathlib import Path

from sync.errors import NotOwn


def content_of(folder: Path, path: Path) -> bytes:
    """The content of a file of a folder.

    Args:
        folder: the folder; where it lies, and whether a link leads to it, is its owner's business [path]
        path: a name in or below it [path]

    Returns:
        the content [bytes]

    Raises:
        NotOwn: the file, or a folder on the way to it, is a link, or the file doesn't lie in the folder.
        OSError: it can't be read, or doesn't exist.
    """
    within = os.path.relpath(path, folder)
    if os.pardir in path.parts or within.startswith(os.pardir):
        raise NotOwn(file=within)
    step = folder
    for part in Path(within).parts:
        step = step / part
        if step.is_symlink():
            raise NotOwn(file=within)
    try:
        with open(path, "rb", opener=_not_by_a_link) as file:
            return file.read()
    except OSError as error:
        if error.errno == errno.ELOOP:
            raise NotOwn(file=within) from error
        raise


def _not_by_a_link(path: str, flags: int) -> int:
    """Also if the name became a link only just now. Windows has no such flag."""
    return os.open(path, flags | getattr(os, "O_NOFOLLOW", 0))
