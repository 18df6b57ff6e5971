"""The rulebook: reads its books from the folder beside this file and says which editions they are.

Nothing here judges or converts; the books are data and are handed to the rules as an argument. What judges and what
words have an edition each, so that a mended sentence makes no stored verdict one "of another rulebook".
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from pathlib import Path
from typing import cast

from sync.kernel.books import Rulebook
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.word_books import WordTree

FOLDER = Path(__file__).with_name("rulebook")

# The words by language, and the books that say what is drawn or printed where: none of them judges.
WORDS = "words"
SHOWING_BOOKS = (WORDS, "strips", "sheet_layout", "currencies")
NOTES = "about"
# The language whose words stand in where another lacks them.
SPOKEN = "en"
# What of the words a phone's screens use.
PHONE_WORDS = ("terms", "causes", "visit", "phone")


def files(folder: Path | None = None) -> list[Path]:
    """The book files in the order of their names [list of paths]."""
    return sorted((folder or FOLDER).glob("*.json"), key=lambda path: path.name)


def _words(folder: Path | None) -> JsonObject:
    """The words of every language: {language tag: {book: its groups}}."""
    words: JsonObject = {}
    for language in sorted(((folder or FOLDER) / WORDS).glob("*/"), key=lambda path: path.name):
        words[language.name] = {path.stem: json.loads(path.read_text("utf-8")) for path in files(language)}
    return words


def load(folder: Path | None = None) -> Rulebook:
    """All books by their file stem.

    Args:
        folder: where the books are; the package's own when None [path]

    Returns:
        {stem: content of the book}, the words by language under "words", the edition of what judges under "hash" and
        that of the words under "words_hash" [Rulebook, 64 hex digits]

    Raises:
        OSError, json.JSONDecodeError: a book cannot be read.
    """
    # JSON until here; tests/kernel/test_books.py holds the committed books to their type.
    return cast(Rulebook, _read(folder))


def _read(folder: Path | None) -> JsonObject:
    """The books as JSON, with their editions."""
    books: JsonObject = {path.stem: json.loads(path.read_text("utf-8")) for path in files(folder)}
    books[WORDS] = _words(folder)
    return {**books, "hash": edition(books), "words_hash": words_edition(books)}


def edition(books: JsonObject) -> str:
    """The edition of what judges: causes, tables, kinds, limits.

    Words, what is drawn, and notes do not count, nor does how a file is laid out.

    Args:
        books: the books by name [JSON objects]

    Returns:
        SHA-256 over their canonical text [64 hex digits]
    """
    return _digest({name: _without_notes(book) for name, book in books.items() if name not in SHOWING_BOOKS})


def words_edition(books: JsonObject) -> str:
    """The edition of the words of all languages, and of what is drawn or printed where [64 hex digits]."""
    return _digest({name: _without_notes(books.get(name)) for name in SHOWING_BOOKS})


def _without_notes(value: Json) -> Json:
    if isinstance(value, dict):
        return {name: _without_notes(inner) for name, inner in value.items() if not name.startswith(NOTES)}
    return [_without_notes(inner) for inner in value] if isinstance(value, list) else value


def _digest(value: Json) -> str:
    text = json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def combined(folder: Path | None = None) -> bytes:
    """The rulebook as `load` gives it, without what only the desk reads, in one JSON document [UTF-8 bytes].

    Left out are the notes on each book, the words, which `words_of_phone` gives, the rows of the sheet, the published
    tables that only tests hold yardsticks against, and the edition of the words; the edition of what judges is that of
    the whole. A whole number is written without ".0", which JavaScript reads as the same number.
    """
    books = {name: _for_phone(book) for name, book in _read(folder).items()}
    for desk_book in ("words_hash", "sheet_layout"):
        books.pop(desk_book, None)
    _member(books, "yardsticks").pop("published", None)
    books[WORDS] = json.loads(words_of_phone(SPOKEN, folder))
    return json.dumps(books, ensure_ascii=False, separators=(",", ":")).encode()


def some_words(books: Iterable[str], language: str, folder: Path | None = None) -> dict[str, WordTree]:
    """A few books of words in one language, with what stands in where it lacks a sentence; nothing else is read.

    Args:
        books: the names of the books [texts]
        language: a language tag, with a region or without [tag]
        folder: where the rulebook is; the package's own when None [path]

    Returns:
        as `words` of the rulebook, as far as there are such books [trees by language tag]
    """
    place, names = (folder or FOLDER) / WORDS, list(books)
    words: dict[str, WordTree] = {}
    for tag in dict.fromkeys((language, language.split("-")[0], SPOKEN)):
        paths = [place / tag / f"{name}.json" for name in names]
        words[tag] = {path.stem: json.loads(path.read_text("utf-8")) for path in paths if path.exists()}
    return words


def languages(book: str, folder: Path | None = None) -> list[str]:
    """The languages that have a book of words: a language claims a book by having its file [tags]."""
    return sorted(path.parent.name for path in ((folder or FOLDER) / WORDS).glob(f"*/{book}.json"))


def words_of_phone(language: str, folder: Path | None = None) -> bytes:
    """The words that a phone's screens use, in one language, whole [UTF-8 bytes].

    Args:
        language: a language that there are words in [tag]
        folder: where the books are; the package's own when None [path]
    """
    words = _words(folder)
    tree: JsonObject = {}
    for tag in dict.fromkeys((SPOKEN, language.split("-")[0], language)):
        tree = _over(tree, _member(words, tag))
    return json.dumps({book: tree[book] for book in PHONE_WORDS if book in tree},
                      ensure_ascii=False, separators=(",", ":")).encode()


def _over(tree: JsonObject, other: JsonObject) -> JsonObject:
    """A tree of words with what another says instead."""
    laid = dict(tree)
    for name, inner in other.items():
        under = laid.get(name)
        laid[name] = _over(under, inner) if isinstance(under, dict) and isinstance(inner, dict) else inner
    return laid


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
