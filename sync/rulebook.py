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
    """The rulebook as `load` gives it, without what only the desk reads, in one JSON document [UTF-8 bytes].

    Left out are the notes on each book, the sentences of errors, and the words of the sheet that no screen shows; the
    edition under "hash" is that of the whole.
    """
    books = {name: _without_notes(book) for name, book in load(folder).items()}
    books.get("wording", {}).pop("errors", None)
    sheet = books.get("sheet_words", {})
    for desk_table in ("rows", "conditions", "own_notes"):
        sheet.pop(desk_table, None)
    on_phone = sheet.pop("on_phone", [])
    for language, words in sheet.get("languages", {}).items():
        sheet["languages"][language] = {group: said for group, said in words.items() if group in on_phone}
    return json.dumps(books, ensure_ascii=False, separators=(",", ":")).encode()


def _without_notes(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _without_notes(inner) for name, inner in value.items() if not name.startswith("about")}
    return value
