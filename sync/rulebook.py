"""The rulebook: reads its books from the folder beside this file and says which editions they are.

Nothing here judges or converts; the books are data and are handed to the rules as an argument. What judges and what
words have an edition each, so that a mended sentence makes no stored verdict one "of another rulebook".
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import cast

from sync.kernel.books import Rulebook
from sync.kernel.json_tree import Json, JsonObject

FOLDER = Path(__file__).with_name("rulebook")

# Books that hold words only, and the fields of other books that do.
WORD_BOOKS = ("wording", "cause_words", "sheet_words")
WORD_FIELDS = ("label", "text")
NOTES = "about"


def files(folder: Path | None = None) -> list[Path]:
    """The book files in the order of their names [list of paths]."""
    return sorted((folder or FOLDER).glob("*.json"), key=lambda path: path.name)


def load(folder: Path | None = None) -> Rulebook:
    """All books by their file stem.

    Args:
        folder: where the books are; the package's own when None [path]

    Returns:
        {stem: content of the book}, the edition of what judges under "hash" and that of the words under "words_hash"
        [Rulebook, 64 hex digits]

    Raises:
        OSError, json.JSONDecodeError: a book cannot be read.
    """
    # JSON until here; tests/kernel/test_books.py holds the committed books to their type.
    return cast(Rulebook, _read(folder))


def _read(folder: Path | None) -> JsonObject:
    """The books as JSON, with their editions."""
    books: JsonObject = {path.stem: json.loads(path.read_text("utf-8")) for path in files(folder)}
    return {**books, "hash": edition(books), "words_hash": words_edition(books)}


def edition(books: JsonObject) -> str:
    """The edition of what judges: causes, tables, kinds, limits.

    Words, labels and notes do not count, nor does how a file is laid out.

    Args:
        books: the books by name [JSON objects]

    Returns:
        SHA-256 over their canonical text [64 hex digits]
    """
    return _digest({name: _judging(book) for name, book in books.items() if name not in WORD_BOOKS})


def words_edition(books: JsonObject) -> str:
    """The edition of the words: sentences, labels and notes of all books [64 hex digits]."""
    return _digest({name: book if name in WORD_BOOKS else dict(_words(book)) for name, book in books.items()})


def _judging(value: Json) -> Json:
    if isinstance(value, dict):
        return {name: _judging(inner) for name, inner in value.items() if not _is_word(name, inner)}
    return [_judging(inner) for inner in value] if isinstance(value, list) else value


def _words(value: Json, path: str = "") -> Iterator[tuple[str, Json]]:
    """What `_judging` leaves out, each with its place."""
    members = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, inner in members:
        if _is_word(str(name), inner):
            yield f"{path}/{name}", inner
        else:
            yield from _words(inner, f"{path}/{name}")


def _is_word(name: str, value: Json) -> bool:
    return name.startswith(NOTES) or (name in WORD_FIELDS and isinstance(value, str))


def _digest(value: Json) -> str:
    text = json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def combined(folder: Path | None = None) -> bytes:
    """The rulebook as `load` gives it, without what only the desk reads, in one JSON document [UTF-8 bytes].

    Left out are the notes on each book, the sentences of errors, the words of the sheet that no screen shows, the
    published tables that only tests hold yardsticks against, and the edition of the words; the edition of what judges
    is that of the whole. A whole number is written without ".0", which JavaScript reads as the same number.
    """
    books = {name: _for_phone(book) for name, book in _read(folder).items()}
    del books["words_hash"]
    _member(books, "wording").pop("errors", None)
    _member(books, "yardsticks").pop("published", None)
    sheet = _member(books, "sheet_words")
    for desk_table in ("rows", "conditions", "own_notes"):
        sheet.pop(desk_table, None)
    on_phone, languages = sheet.pop("on_phone", None), _member(sheet, "languages")
    groups = on_phone if isinstance(on_phone, list) else []
    for language in languages:
        words = _member(languages, language)
        languages[language] = {group: words[group] for group in words if group in groups}
    return json.dumps(books, ensure_ascii=False, separators=(",", ":")).encode()


def _member(book: JsonObject, name: str) -> JsonObject:
    """An object within a book; an empty one where it is missing."""
    member = book.get(name)
    return member if isinstance(member, dict) else {}


def _for_phone(value: Json) -> Json:
    """A book without notes; whole numbers as integers."""
    if isinstance(value, dict):
        return {name: _for_phone(inner) for name, inner in value.items() if not name.startswith(NOTES)}
    if isinstance(value, list):
        return [_for_phone(inner) for inner in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value
