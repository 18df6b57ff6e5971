"""The words by code: blanks, plural forms, stand-ins where a language lacks a sentence."""

from __future__ import annotations

import pytest

from sync.errors import LaybyError
from sync.kernel.word_books import WordTree
from sync.language.words import Words

BOOKS: dict[str, WordTree] = {
    "en": {"errors": {"not_here": "{name} is not here."}, "desk": {
        "colour": "colour", "plain": "as it is", "visits": {"one": "{count} visit", "other": "{count} visits"}}},
    "en-US": {"desk": {"colour": "color"}},
    "es": {"desk": {"visits": {"one": "{count} visita", "other": "{count} visitas"}}},
}


class NotHere(LaybyError):
    """An error with a sentence."""

    code = "not_here"


@pytest.mark.parametrize(("language", "code", "said"), [
    ("en-GB", "desk.colour", "colour"),
    ("en-US", "desk.colour", "color"),
    ("en-US", "desk.plain", "as it is"),
    ("es-MX", "desk.plain", "as it is"),
    ("fr", "desk.colour", "colour"),
])
def test_a_region_goes_before_its_language_and_english_stands_in(language: str, code: str, said: str) -> None:
    """What a region changes, then its language, then English."""
    assert Words(BOOKS, language).say(code) == said


@pytest.mark.parametrize(("language", "count", "said"), [
    ("en", 1, "1 visit"), ("en", 0, "0 visits"), ("en", 2, "2 visits"), ("es", 1, "1 visita"), ("es", 12, "12 visitas"),
    # Spanish has its own form for whole millions; a book without it falls back to "other".
    ("es", 1_000_000, "1000000 visitas"),
])
def test_a_count_chooses_its_plural_form(language: str, count: int, said: str) -> None:
    """By the plural rules of the Unicode CLDR."""
    assert Words(BOOKS, language).say("desk.visits", count=count) == said


def test_a_sentence_that_is_nowhere_is_an_error() -> None:
    """A slip in a code is found where it is made; so is a blank that nothing fills."""
    words = Words(BOOKS)
    for code in ("desk.nothing", "desk", "nowhere.at.all"):
        with pytest.raises(KeyError):
            words.say(code)
    with pytest.raises(KeyError, match="name"):
        words.say("errors.not_here")


def test_an_error_without_words_says_its_code_and_values() -> None:
    """Nothing is swallowed if a sentence is missing."""
    assert Words(BOOKS).error(NotHere(name="The file")) == "The file is not here."
    assert Words(BOOKS).error(NotHere(other=1)) == "not_here: other=1"
    assert Words(BOOKS).error(LaybyError(size=2)) == "layby: size=2"


def test_a_term_without_a_word_shows_as_itself() -> None:
    """A code without a word is still readable."""
    assert Words(BOOKS).term("work", "fan_repaired") == "fan repaired"
