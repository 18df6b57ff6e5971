"""The rulebook: reads its books from the folder beside this file and says which edition they are.

Nothing here judges or converts; the books are data and are handed to the rules as an argument.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).with_name("rulebook")

Rulebook = dict[str, Any]


def files(folder: Path | None = None) -> list[Path]:
    """The book files in the order of their names [list of paths]."""
    return sorted((folder or FOLDER).glob("*.json"), key=lambda path: path.name)


def load(folder: Path | None = None) -> Rulebook:
    """All books by their file stem.

    Args:
        folder: where the books are; the package's own when None [path]

    Returns:
        {stem: content of the book}, and the edition under "hash" [JSON objects, 64 hex digits]

    Raises:
        OSError, json.JSONDecodeError: a book cannot be read.
    """
    books: Rulebook = {path.stem: json.loads(path.read_text("utf-8")) for path in files(folder)}
    books["hash"] = digest(folder)
    return books


def digest(folder: Path | None = None) -> str:
    """The edition: a SHA-256 over the names and bytes of all books [64 hex digits]."""
    running = hashlib.sha256()
    for path in files(folder):
        content = path.read_bytes()
        running.update(f"{path.name} {len(content)}\n".encode())
        running.update(content)
    return running.hexdigest()


def combined(folder: Path | None = None) -> bytes:
    """The whole rulebook as `load` gives it, in one JSON document for the phone [UTF-8 bytes]."""
    return json.dumps(load(folder), ensure_ascii=False, separators=(",", ":")).encode()
