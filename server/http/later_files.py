"""What a phone loads after its first start, for when it is needed: the screen for a logger's file, and sensors.

One file a language, with the words and the book of loggers in it. Nothing here is kept or drawn.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from server.http.help_texts import layered
from server.http.made import made
from server.http.served_module import served
from server.http.slim import slim
from sync import rulebook
from sync.emitter import emitted, logger_paths, sources
from sync.kernel.word_books import WordTree
from sync.language.locales import SPOKEN
from sync.language.words import Words

ENTRY = "/later/later.js"
# The reading of a file by itself, for a test or a person at the developer tools.
RULES = "/loggers.js"
KERNEL = "/kernel.js"
SHELF = b'"LAYBY_LATER"'
# The groups of words that these screens use.
SAID = ("loggers", "fields.tests", "fields.suffix", "terms.unit")


def later_files(modules: Mapping[str, str], kernel: str, books: Path | None = None) -> dict[str, bytes]:
    """The file of each language, and the reading of a file by itself.

    Args:
        modules: the page's modules by their path [{absolute path: JavaScript}]
        kernel: the rules [JavaScript]
        books: the rulebook's folder; the package's own when None [path]

    Returns:
        the files by their path; empty where the page or the rulebook has no such part [UTF-8 bytes]

    Raises:
        page_module.Refused: the modules can't be joined.
    """
    if ENTRY not in modules or not rulebook.languages(rulebook.LOGGERS, books):
        return {}
    code = served("later.js", modules, ENTRY, {KERNEL: kernel, RULES: _rules()})
    words, book = rulebook.load(books)["words"], rulebook.loggers(books)
    files = {RULES: slim(_rules().encode(), ".js")}
    for tag in rulebook.phone_languages(books):
        shelf = {"language": tag, "book": book, "words": _said(Words(words, SPOKEN), Words(words, tag))}
        text = json.dumps(shelf, ensure_ascii=False, separators=(",", ":"))
        files[f"/later/{tag}.js"] = code.replace(SHELF, text.encode())
    return files


def _said(first: Words, words: Words) -> WordTree:
    """The groups of words in a language, each where its code says."""
    tree: WordTree = {}
    for group in SAID:
        *above, name = group.split(".")
        place = tree
        for step in above:
            place = place.setdefault(step, {})  # type: ignore[assignment]  # a group, as its code says
        place[name] = layered(first.find(group) or {}, words, group)
    return tree


@cache
def _rules() -> str:
    """The reading of a file, made from its Python."""
    return made("loggers.js", sources(), lambda: emitted(logger_paths(), None))
