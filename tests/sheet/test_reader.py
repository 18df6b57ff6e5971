"""Whose language, region and paper size a sheet has; the words of each language are complete.

Paper sizes by the Unicode CLDR's `paperSize`; a person read the Spanish texts.
"""

from __future__ import annotations

from string import Formatter
from typing import Any

import pytest

from sync.kernel.word_books import WordTree
from sync.sheet.jobsheet import jobsheet
from sync.sheet.letter import letter
from tests.support.sheet_visits import COMPARISON, PAIR, judged

Rulebook = dict[str, Any]
BOOKS = ("sheet", "visit", "causes", "mail")
FORMS = {"zero", "one", "two", "few", "many", "other"}


def sheet_for(rulebook: Rulebook, customer: dict[str, str], **settings: str) -> dict[str, Any]:
    """The sheet of a compared pair for a customer of that language and country."""
    visit = {**PAIR, "customer": {**PAIR["customer"], **customer}}
    return jobsheet(visit, judged(visit, rulebook, COMPARISON), rulebook, settings)


@pytest.mark.parametrize(("customer", "settings", "language", "paper"), [
    ({}, {}, "en", "A4"),
    ({}, {"language": "es"}, "es", "A4"),
    ({"language": "es"}, {"language": "en"}, "es", "A4"),
    ({"language": "es", "country": "MX"}, {}, "es-MX", "Letter"),
    ({"country": "US"}, {}, "en-US", "Letter"),
    ({"country": "US"}, {"paper": "A4"}, "en-US", "A4"),
    ({"language": "en", "country": "GB"}, {"paper": "Letter"}, "en-GB", "Letter"),
    ({}, {"language": "en-US"}, "en-US", "Letter"),
    ({"language": "fr", "country": "CA"}, {}, "en-CA", "Letter"),
])
def test_the_customer_goes_before_the_settings_in_words_and_the_settings_in_paper(
    customer: dict[str, str], settings: dict[str, str], language: str, paper: str, rulebook: Rulebook
) -> None:
    """Without words in a language the next one counts; without a country, the language's region does."""
    data = sheet_for(rulebook, customer, **settings)
    assert (data["language"], data["paper"]) == (language, paper)


def test_a_spanish_sheet_is_spanish_throughout(rulebook: Rulebook) -> None:
    """Sentence, numbers with a decimal comma, day, letter and file."""
    data = sheet_for(rulebook, {"language": "es", "country": "ES"})
    assert data["result"]["sentences"] == [
        "El compresor de su aire acondicionado trabaja ahora contra una presión cerca de una quinta parte menor."]
    assert data["heading"]["title"] == "Hoja de trabajo"
    assert data["heading"]["beside"] == ["14 de julio de 2026, de 13:55 a 15:20"]
    bill = next(block for block in data["blocks"] if block["name"] == "price")
    assert bill["totals"][-1] == {"label": "Total, EUR", "text": "120,00", "grand": True}
    written = letter(PAIR, data, rulebook)
    assert (written["language"], written["file"]) == ("es-ES", "hoja-de-trabajo-2026-07-14.pdf")
    assert written["paragraphs"][0] == ["Hola, Noor Halloran:"]


def test_american_words_differ_where_america_says_otherwise(rulebook: Rulebook) -> None:
    """An odometer, a center vent; the rest is English as everywhere."""
    american = str(sheet_for(rulebook, {"country": "US"}))
    british = str(sheet_for(rulebook, {"country": "GB"}))
    assert "Vent, center" in american
    assert "Vent, centre" in british
    assert "on the odometer" in american
    assert "on the clock" in british
    assert "July 14, 2026" in american
    assert "14 July 2026" in british


def sentences(tree: WordTree, path: str = "") -> dict[str, set[str]]:
    """Each sentence of a book by code, with its blanks; a group of plural forms counts as one."""
    found: dict[str, set[str]] = {}
    for name, inner in tree.items():
        forms = [inner] if isinstance(inner, str) else list(inner.values()) if set(inner) <= FORMS else []
        if forms:
            blanks = {blank for form in forms for _, blank, _, _ in Formatter().parse(str(form)) if blank}
            found[f"{path}{name}"] = blanks
        elif isinstance(inner, dict):
            found |= sentences(inner, f"{path}{name}.")
    return found


@pytest.mark.parametrize("book", BOOKS)
def test_spanish_has_every_sentence_with_its_blanks(book: str, rulebook: Rulebook) -> None:
    """The same codes and the same values: a sentence that lacks one would lose information."""
    words = rulebook["words"]
    assert sentences(words["es"][book]) == sentences(words["en"][book])


@pytest.mark.parametrize("book", BOOKS)
def test_what_a_region_says_otherwise_its_language_says_too(book: str, rulebook: Rulebook) -> None:
    """A code that only the region has would never be asked for."""
    words = rulebook["words"]
    assert sentences(words["en-US"].get(book, {})).items() <= sentences(words["en"][book]).items()


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_unit_never_parts_from_its_number(language: str, rulebook: Rulebook) -> None:
    """A blank or a number, then a unit: a no-break space between."""
    for book in BOOKS:
        text = str(rulebook["words"][language][book])
        for unit in ("min", "%", "kg", "rpm", "{unit}"):
            assert "} " + unit + " " not in text
            assert "} " + unit + "," not in text
            assert "} " + unit + "'" not in text
