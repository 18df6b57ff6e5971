"""What the service makes of its own sources, kept beside the byte code that Python keeps of them.

A start reads it instead of making it again, until a source changes. Where nothing can be written, it is made each time.
"""

from __future__ import annotations

import hashlib
import importlib.util
import logging
import os
import sys
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

log = logging.getLogger("layby.made")


def made(name: str, sources: Iterable[str], make: Callable[[], str]) -> str:
    """A text as it was made from these sources, now or at an earlier start.

    Args:
        name: of the text's file; a new text takes the place of the one before
        sources: everything that decides what is made [texts]
        make: makes it
    """
    path = Path(importlib.util.cache_from_source(__file__)).with_name(name)
    running = hashlib.sha256()
    for source in (sys.version, *sources):
        running.update(hashlib.sha256(source.encode()).digest())
    key = running.hexdigest()
    kept = _kept(path, key)
    if kept is None:
        kept = make()
        if not sys.dont_write_bytecode:
            _keep(path, f"{_head(key, kept)}\n{kept}")
    return kept


def _head(key: str, text: str) -> str:
    """The first line of a kept text: what it was made from, and a hash that a torn or changed file doesn't have."""
    return f"{key} {hashlib.sha256(text.encode()).hexdigest()}"


def _kept(path: Path, key: str) -> str | None:
    try:
        head, text = path.read_bytes().decode().split("\n", 1)
    except (OSError, ValueError):
        return None  # not there yet, or not whole: it is made again
    return text if head == _head(key, text) else None


def _keep(path: Path, text: str) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=path.parent, delete=False) as unfinished:
            unfinished.write(text.encode())
        os.replace(unfinished.name, path)
    except OSError as error:
        log.debug("%s is made at each start, since it can't be kept: %s", path.name, error)
