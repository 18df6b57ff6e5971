"""The texts of help as a phone gets them: one language, with the figures that they name.

No sentence stands here, and no figure is formatted: the reader decides the unit.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from sync import rulebook
from sync.kernel.word_books import WordTree
from sync.language.locales import SPOKEN
from sync.language.words import Words

BOOK = "help"
FIGURES = "help_figures.json"


def help_files(folder: Path | None = None) -> dict[str, bytes]:
    """The help of each language that has one.

    Args:
        folder: where the rulebook's books are; the package's own when None [path]

    Returns:
        {language tag: {"text": texts by kind, code and part, "figures": {name: {"quantity", "value"}}, "also": which
        derived quantities are explained beside a reading} as JSON}; empty if there are no figures [UTF-8 bytes;
        canonical units]

    Raises:
        KeyError: a figure's path leads nowhere in the rulebook.
    """
    path = (folder or rulebook.FOLDER) / rulebook.WORDS / FIGURES
    if not path.is_file():
        return {}
    books: Any = rulebook.load(folder)
    book = json.loads(path.read_text("utf-8"))
    figures = {name: figure_of(row, books) for name, row in book["figures"].items()}
    words: dict[str, WordTree] = books[rulebook.WORDS]
    texts = {tag: layered(words[SPOKEN][BOOK], Words(words, tag), BOOK) for tag in words if BOOK in words[tag]}
    return {tag: _json({"text": text, "figures": figures, "also": book["also"]}) for tag, text in texts.items()}


def figure_of(row: dict[str, Any], books: Any) -> dict[str, Any]:
    """The quantity and ends of a figure: its own, or those found under its paths in the rulebook.

    Args:
        row: a row of the figures, with `value` or `path`
        books: the rulebook

    Returns:
        {"quantity", "value": one figure, or the lower and the upper end of a range}; a share in percent [canonical
        units]
    """
    paths = [row["path"]] if isinstance(row.get("path"), str) else row.get("path", [])
    value = row.get("value") or [_at(books, path.split(".")) for path in paths]
    if row["quantity"] == "share":
        return {"quantity": "percent", "value": [100 * one for one in value]}
    return {"quantity": row["quantity"], "value": value}


def _at(found: Any, names: list[str]) -> float:
    """The value found under the names; a list of rows is searched by their own names."""
    for name in names:
        found = {row["name"]: row for row in found}[name] if isinstance(found, list) else found[name]
    return float(found)


def layered(tree: WordTree | str, words: Words, code: str) -> WordTree | str:
    """A group of texts in a language, with the first language's where it has none."""
    if isinstance(tree, str):
        return str(words.find(code))
    return {name: layered(inner, words, f"{code}.{name}") for name, inner in tree.items()}


def _json(value: Any) -> bytes:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode()
