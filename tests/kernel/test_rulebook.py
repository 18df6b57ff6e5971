"""The editions of the rulebook: one for what judges, one for the words; each change affects only its own."""

from __future__ import annotations

import copy
import hashlib
import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from sync import rulebook as books

WORDS = [
    ("words", "en", "errors", "void"),
    ("words", "en", "terms", "outcome", "done"),
    ("words", "en", "causes", "causes", "icing", "name"),
    ("words", "en", "sheet", "not_taken"),
    ("strips", "strips", 0, "low"),
    ("unit_question", "usual", "readings.low_kpa_g", 0),
    ("sheet_layout", "conditions", 0),
    ("fields", "scopes", "tests", "readings.vent_c", "meaning"),
    ("fields", "scopes", "tests", "readings.vent_c", "sheet", "order"),
    ("fields", "scopes", "visit", "customer.name", "type"),
]
NOTES = [
    ("causes", "about"),
    ("causes", "told_apart", "about"),
    ("causes", "about_checks"),
    ("fields", "scopes", "tests", "role", "about"),
]
JUDGING = [
    ("causes", "told_apart", "alone"),
    ("distribution", "shifts", "regulated", "icing", 0, 0),
    ("saturation_R134a", "t_c", 3),
    ("kinds", "kinds", "test.add", "does"),
    ("comparison", "coverage"),
    ("cautions", "cautions", 3, "when"),
    ("units", "pressure", "units", "psi", "scale"),
    ("refrigerants", "refrigerants", "R134a", "trust"),
    ("vocabularies", "fan", 0),
    ("fields", "scopes", "tests", "readings.vent_c", "range", 0),
    ("fields", "scopes", "tests", "readings.low_kpa_g", "high_r744"),
]


def changed(whole: dict[str, Any], path: tuple[str | int, ...]) -> dict[str, Any]:
    """A copy of the books with another value in one place."""
    copied = copy.deepcopy(whole)
    node: Any = copied
    for key in path[:-1]:
        node = node[key]
    before = node[path[-1]]
    more = {str: ", mended", list: [None], float: 1.0, int: 1}[type(before)]
    node[path[-1]] = before + more
    return copied


@pytest.fixture(scope="module")
def whole() -> dict[str, Any]:
    """The committed books without their editions."""
    return {name: book for name, book in books.load().items() if not name.endswith("hash")}


@pytest.mark.parametrize("path", WORDS)
def test_a_mended_word_leaves_the_edition_of_what_judges(whole: dict[str, Any], path: tuple[str | int, ...]) -> None:
    """A sentence, a label, a scale: no stored verdict comes under another rulebook; the words' edition changes."""
    mended = changed(whole, path)
    assert books.edition(mended) == books.edition(whole)
    assert books.words_edition(mended) != books.words_edition(whole)


@pytest.mark.parametrize("path", NOTES)
def test_a_mended_note_leaves_both_editions(whole: dict[str, Any], path: tuple[str | int, ...]) -> None:
    """A note is for readers of the book; nothing that a person meets changes with it."""
    mended = changed(whole, path)
    assert books.edition(mended) == books.edition(whole)
    assert books.words_edition(mended) == books.words_edition(whole)


@pytest.mark.parametrize("path", JUDGING)
def test_a_change_of_what_judges_moves_its_edition(whole: dict[str, Any], path: tuple[str | int, ...]) -> None:
    """A limit, a pattern, a table, a kind, a condition: the edition changes, that of the words stays."""
    other = changed(whole, path)
    assert books.edition(other) != books.edition(whole)
    assert books.words_edition(other) == books.words_edition(whole)


def test_how_a_book_is_laid_out_does_not_count(tmp_path: Path) -> None:
    """The same content in other lines, with its fields in another order, is the same edition."""
    folder = tmp_path / "rulebook"
    shutil.copytree(books.FOLDER, folder)
    for path in books.files(folder):
        book = json.loads(path.read_text("utf-8"))
        path.write_text(json.dumps(dict(reversed(book.items())), indent=3), "utf-8")
    assert [books.load(folder)[name] for name in ("hash", "words_hash")] == [
        books.load()[name] for name in ("hash", "words_hash")
    ]


def test_the_edition_is_a_hash_over_what_is_written_here(tmp_path: Path) -> None:
    """A small rulebook, its canonical text written out by hand."""
    limits = '{"about": "Why.", "reach": 2.5, "rows": [{"about": "low", "code": "a"}]}'
    (tmp_path / "limits.json").write_text(limits, "utf-8")
    (tmp_path / "words" / "en").mkdir(parents=True)
    (tmp_path / "words" / "en" / "errors.json").write_text('{"void": "It was void."}', "utf-8")
    judging = '{"limits":{"reach":2.5,"rows":[{"code":"a"}]}}'
    assert books.load(tmp_path)["hash"] == hashlib.sha256(judging.encode()).hexdigest()
