"""The committed words of the sheet against the type by which code takes them: every part there, of its kind."""

from __future__ import annotations

from typing import get_type_hints

import pytest

from sync.kernel.books import Rulebook
from sync.sheet.words import SheetWords
from tests.kernel.test_books import faults_of

# Parts of a group that hold more beside what the type names.
WITHIN = {"small": ("named",)}


def test_the_words_are_what_their_type_says(rulebook: Rulebook) -> None:
    """mypy believes the type; this holds every language to it."""
    for language, words in rulebook["sheet_words"]["languages"].items():
        parts = {name: words[name] for name in get_type_hints(SheetWords)}
        parts |= {name: {key: parts[name][key] for key in keys} for name, keys in WITHIN.items()}
        assert faults_of(parts, SheetWords, f"/{language}") == []


def test_every_other_group_is_sentences_by_code(rulebook: Rulebook) -> None:
    """What the type does not name is looked up as group and code, and must be text."""
    for words in rulebook["sheet_words"]["languages"].values():
        groups = {name: group for name, group in words.items() if name not in get_type_hints(SheetWords)}
        assert groups
        for name, group in groups.items():
            assert {type(text) for text in group.values()} == {str}, name


@pytest.mark.parametrize(("change", "fault"), [({"months": "July"}, "months"), ({"number": {"point": 1}}, "number")])
def test_a_part_that_differs_is_told(rulebook: Rulebook, change: dict[str, object], fault: str) -> None:
    """A text where a list belongs, and a number where a text does."""
    words = rulebook["sheet_words"]["languages"]["en"]
    parts = {name: words[name] for name in get_type_hints(SheetWords)} | change
    assert any(f"/en/{fault}" in told for told in faults_of(parts, SheetWords, "/en"))
