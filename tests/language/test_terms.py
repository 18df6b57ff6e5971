"""The trade's words: each code has one in each language, and the figures in them are those of the rules.

No test can say which word is right; the sources are beside the words, in their README.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, cast

import pytest

from sync.kernel.books import Rulebook
from sync.kernel.word_books import WordTree
from sync.language.words import blanks_of

LANGUAGES = ("en", "es")


def sentences(tree: WordTree, path: str = "") -> Iterator[tuple[str, str]]:
    """Every sentence of a book with its code."""
    for name, inner in tree.items():
        if isinstance(inner, str):
            yield path + name, inner
        else:
            yield from sentences(inner, f"{path}{name}.")


def terms_of(rulebook: Rulebook, tag: str) -> dict[str, str]:
    """The trade's words of a language, by code."""
    return dict(sentences(cast(WordTree, rulebook["words"][tag]["terms"])))


def codes_to_say(rulebook: Rulebook) -> set[str]:
    """What the rules may tell a person or ask them, as codes of the book."""
    book = cast(dict[str, Any], rulebook)
    listed = {f"{name}.{code}" for name, codes in book["vocabularies"].items() if name != "about" for code in codes}
    derived = {f"derived.{row['name']}" for row in book["quantities"]["derived"]} | {"derived.rest_excess_kpa"}
    cautions = {f"caution.{row['code']}" for row in book["cautions"]["cautions"]}
    notes = {f"comparison_note.{name}_not_recorded" for name in book["comparison"]["not_recorded_k"]}
    notes |= {f"comparison_note.{name}_differs" for name in book["comparison"]["differs_k"]}
    units = {f"unit.{quantity}.{unit}" for quantity, row in book["units"].items() if isinstance(row, dict)
             for unit in row["units"] if quantity in book["words"]["en"]["terms"]["unit"]}
    needed = [path for paths in book["quantities"]["needs"].values() for path in paths]
    plausible = [path for path, row in book["fields"]["scopes"]["tests"].items() if "range" in row]
    fields = {f"field.{path.split('.')[-1]}" for path in (*needed, *plausible)}
    return listed | derived | cautions | notes | units | fields


@pytest.mark.parametrize("tag", LANGUAGES)
def test_every_code_has_its_word(rulebook: Rulebook, tag: str) -> None:
    """The vocabularies, derived quantities, notes of a comparison, cautions, units, what a judgement lacks."""
    assert codes_to_say(rulebook) - set(terms_of(rulebook, tag)) == set()


def test_a_language_has_the_blanks_of_english(rulebook: Rulebook) -> None:
    """A value that one language names and another doesn't would be lost."""
    english, spanish = terms_of(rulebook, "en"), terms_of(rulebook, "es")
    assert [code for code in english if blanks_of(english[code]) != blanks_of(spanish[code])] == []


def test_a_language_has_the_codes_of_english_and_no_other(rulebook: Rulebook) -> None:
    """A region's book holds only what differs."""
    english, american = terms_of(rulebook, "en"), terms_of(rulebook, "en-US")
    assert set(terms_of(rulebook, "es")) == set(english)
    assert [code for code, words in american.items() if english.get(code, words) == words] == []


def test_what_is_given_as_a_figure_is_the_same_in_each_language(rulebook: Rulebook) -> None:
    """Pressures, temperatures and shares in cautions and reasons, however their thousands are written."""
    english, spanish = terms_of(rulebook, "en"), terms_of(rulebook, "es")
    for code in english:
        figures = [re.findall(r"\d+", re.sub(r"(?<=\d)[,.](?=\d{3})", "", words[code])) for words in (english, spanish)]
        assert figures[0] == figures[1], code


@pytest.mark.parametrize("tag", LANGUAGES)
def test_the_limits_in_words_are_the_rules(rulebook: Rulebook, tag: str) -> None:
    """Minutes since rinsing, minutes apart."""
    terms, limits = terms_of(rulebook, tag), rulebook["comparison"]["limits"]
    assert f" {limits['rinsed_min']:.0f}\u00a0" in terms["reason.rinsed_recently"]
    assert f" {limits['minutes']:.0f}\u00a0" in terms["reason.minutes_differ"]
