"""The rulebook: reads its books from the folder beside this file and says which editions they are.

Nothing here judges or converts; the books are data and are passed to the rules as an argument. The part that judges and
the words each have their own edition, so correcting a sentence doesn't put a stored verdict under "another rulebook".
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
from sync.loggers.book import LoggersBook

FOLDER = Path(__file__).with_name("rulebook")

# The words by language, and the books that say what is drawn or printed where: none of these judges.
WORDS = "words"
SHOWING_BOOKS = (WORDS, "strips", "unit_question", "sheet_layout", "currencies")
# How a logger's file is read: judges nothing, and a phone loads it when it needs it.
LOGGERS = "loggers"
# In the book of fields, only the limits of readings judge; the rest says what is asked for and shown where.
FIELDS = "fields"
LIMITS = frozenset(("range", "high_r744"))
NOTES = "about"
# The language that stands in where another lacks words.
SPOKEN = "en"
# The words a phone's screens use; a language is one that the phone speaks if it has the books that only the phone uses.
PHONE = "phone"
PHONE_WORDS = ("terms", "causes", "visit", "fields", "quick", PHONE)
# The parts of a field that only the desk reads.
DESK_KEYS = ("required", "sheet")


def files(folder: Path | None = None) -> list[Path]:
    """The book files, in order of their names [list of paths]."""
    return sorted((folder or FOLDER).glob("*.json"), key=lambda path: path.name)


def loggers(folder: Path | None = None) -> LoggersBook:
    """How a logger's file is read [LoggersBook].

    Args:
        folder: where the books are; the package's own when None [path]
    """
    book = json.loads(((folder or FOLDER) / LOGGERS / f"{LOGGERS}.json").read_text("utf-8"))
    return cast(LoggersBook, {name: part for name, part in book.items() if name != NOTES})


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
        the edition of the words under "words_hash" [Rulebook, 64 hex digits]

    Raises:
        OSError, json.JSONDecodeError: a book cannot be read.
    """
    # Plain JSON up to here; tests/kernel/test_books.py checks the committed books against their type.
    return cast(Rulebook, _read(folder))


def _read(folder: Path | None) -> JsonObject:
    """The books as JSON, with their editions."""
    books: JsonObject = {path.stem: json.loads(path.read_text("utf-8")) for path in files(folder)}
    books[WORDS] = _words(folder)
    return {**books, "hash": edition(books), "words_hash": words_edition(books)}


def edition(books: JsonObject) -> str:
    """The edition of what judges: causes, tables, kinds, limits.

    Words, drawings and notes don't count, and neither does the layout of a file.

    Args:
        books: the books by name [JSON objects]

    Returns:
        SHA-256 over their canonical text [64 hex digits]
    """
    judging = {name: _without_notes(book) for name, book in books.items() if name not in SHOWING_BOOKS}
    if FIELDS in judging:
        judging[FIELDS] = _limits(_member(judging, FIELDS))
    return _digest(judging)


def words_edition(books: JsonObject) -> str:
    """The edition of the words of all languages, and of what is drawn or printed where [64 hex digits]."""
    showing = {name: _without_notes(books.get(name)) for name in (*SHOWING_BOOKS, FIELDS)}
    return _digest({**showing, FIELDS: _without_limits(_member(showing, FIELDS))})


def _limits(book: JsonObject) -> JsonObject:
    """The part of the book of fields that judges: each limit, and the quantity as which it is tried in other units."""
    return {f"{scope}.{path}": {key: row[key] for key in (*LIMITS, "quantity") if key in row}
            for scope, path, row in _rows(book) if not LIMITS.isdisjoint(row)}


def _without_limits(book: JsonObject) -> JsonObject:
    """What doesn't judge in the book of fields; the order of its rows counts, because it is the order of the form."""
    rows: list[Json] = [[scope, path, {key: row[key] for key in row if key not in LIMITS}]
                        for scope, path, row in _rows(book)]
    return {**book, "scopes": rows}


def _rows(book: JsonObject) -> list[tuple[str, str, JsonObject]]:
    """The rows of the book of fields, each with its scope and its path."""
    scopes = _member(book, "scopes")
    return [(scope, path, _member(_member(scopes, scope), path)) for scope in scopes for path in _member(scopes, scope)]


def _without_notes(value: Json) -> Json:
    if isinstance(value, dict):
        return {name: _without_notes(inner) for name, inner in value.items() if not name.startswith(NOTES)}
    return [_without_notes(inner) for inner in value] if isinstance(value, list) else value


def _digest(value: Json) -> str:
    text = json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def combined(folder: Path | None = None) -> bytes:
    """The rulebook as `load` gives it, without what only the desk reads, in one JSON document [UTF-8 bytes].

    It leaves out the notes on each book, the words (`words_of_phone` gives them), the sheet's layout, the fields that
    the phone neither asks for nor judges, the published tables that only tests compare with yardsticks, and the edition
    of the words. The edition of what judges is that of the whole rulebook. A whole number is written without ".0";
    JavaScript reads it as the same number.
    """
    books = {name: _for_phone(book) for name, book in _read(folder).items()}
    for desk_book in (WORDS, "words_hash", "sheet_layout"):
        books.pop(desk_book, None)
    _member(books, "yardsticks").pop("published", None)
    if FIELDS in books:
        books[FIELDS] = _fields_of_phone(cast(JsonObject, books.pop(FIELDS)))
    return json.dumps(books, ensure_ascii=False, separators=(",", ":")).encode()


def _fields_of_phone(book: JsonObject) -> JsonObject:
    """The rows that the phone asks for or judges, with the parts it reads."""
    scopes: dict[str, JsonObject] = {}
    for scope, path, row in _rows(book):
        if "step" in row or "range" in row:
            scopes.setdefault(scope, {})[path] = {key: row[key] for key in row if key not in DESK_KEYS}
    return {"scopes": {**scopes}}


def phone_languages(folder: Path | None = None) -> list[str]:
    """The languages a phone's screens can speak: those with a book for them, and the overlays of their regions.

    A language without that book isn't offered, because half of its screens would be in English [list of tags]
    """
    words = _words(folder)
    return [tag for tag in words if PHONE in _member(words, tag.split("-")[0])]


def some_words(books: Iterable[str], language: str, folder: Path | None = None) -> dict[str, WordTree]:
    """A few books of words in one language, with stand-ins for the sentences it lacks; nothing else is read.

    Args:
        books: the names of the books [texts]
        language: a language tag, with a region or without [tag]
        folder: where the rulebook is; the package's own when None [path]

    Returns:
        as `words` of the rulebook, for the books that exist [trees by language tag]
    """
    place, names = (folder or FOLDER) / WORDS, list(books)
    words: dict[str, WordTree] = {}
    for tag in dict.fromkeys((language, language.split("-")[0], SPOKEN)):
        paths = [place / tag / f"{name}.json" for name in names]
        words[tag] = {path.stem: json.loads(path.read_text("utf-8")) for path in paths if path.exists()}
    return words


def languages(book: str, folder: Path | None = None) -> list[str]:
    """The languages that have a certain book of words: a language claims a book by having its file [tags]."""
    return sorted(path.parent.name for path in ((folder or FOLDER) / WORDS).glob(f"*/{book}.json"))


def words_of_phone(language: str, folder: Path | None = None) -> bytes:
    """The words of a phone's screens in one language, complete, with its tag under "language" [UTF-8 bytes].

    Args:
        language: one of `phone_languages` [tag]
        folder: where the books are; the package's own when None [path]
    """
    words = _words(folder)
    tree: JsonObject = {}
    for tag in dict.fromkeys((SPOKEN, language.split("-")[0], language)):
        tree = _over(tree, _member(words, tag))
    books: JsonObject = {"language": language, **{book: tree[book] for book in PHONE_WORDS if book in tree}}
    return json.dumps(books, ensure_ascii=False, separators=(",", ":")).encode()


def _over(tree: JsonObject, other: JsonObject) -> JsonObject:
    """A tree of words, overlaid with another."""
    laid = dict(tree)
    for name, inner in other.items():
        under = laid.get(name)
        laid[name] = _over(under, inner) if isinstance(under, dict) and isinstance(inner, dict) else inner
    return laid


def _member(book: JsonObject, name: str) -> JsonObject:
    """An object within a book; an empty one if it is missing."""
    member = book.get(name)
    return member if isinstance(member, dict) else {}


def _for_phone(value: Json) -> Json:
    """A book without notes; whole numbers as integers."""
    if isinstance(value, dict):
        return {name: _for_phone(inner) for name, inner in value.items() if not name.startswith(NOTES)}
    if isinstance(value, list):
        return [_for_phone(inner) for inner in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value
