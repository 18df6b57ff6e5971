"""A rulebook with one more reading: a row in the book of fields and its words, as anybody would add it.

No test lives here. The reading is the line out of the receiver, which no committed book has.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

from sync import rulebook as books

NAME = "receiver_c"
PATH = f"readings.{NAME}"
LABEL = "Receiver line"
ROW = {
    "type": "number", "quantity": "temperature", "range": [-10, 90], "step": "test", "large": True,
    "sheet": {"order": 205, "label": "receiver_line"},
}  # fmt: skip


def folder_with_reading(ground: Path) -> Path:
    """A copy of the rulebook's folder with the reading in it, right after the liquid line.

    Args:
        ground: where to make the copy [path]

    Returns:
        the copy [path]
    """
    folder = ground / "rulebook"
    shutil.copytree(books.FOLDER, folder)
    _change(folder / "fields.json", _with_row)
    _change(folder / "words" / "en" / "fields.json", _with_label)
    _change(folder / "words" / "en" / "sheet.json", _with_row_label)
    return folder


def _change(path: Path, change: Any) -> None:
    path.write_text(json.dumps(change(json.loads(path.read_text("utf-8"))), ensure_ascii=False), "utf-8")


def _with_row(book: Any) -> Any:
    rows: dict[str, Any] = {}
    for path, row in book["scopes"]["tests"].items():
        rows[path] = row
        if path == "readings.liquid_line_c":
            rows[PATH] = ROW
    book["scopes"]["tests"] = rows
    return book


def _with_label(words: Any) -> Any:
    words["tests"]["readings"][NAME] = LABEL
    return words


def _with_row_label(words: Any) -> Any:
    words["row"]["receiver_line"] = LABEL
    return words
