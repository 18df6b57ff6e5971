"""A sheet in another language: nothing on it from any other language, and nothing of a longer language cut off.

The language is one that nobody speaks, made from English (tests/support/pseudo.py). Read back with pypdf.
"""

from __future__ import annotations

import calendar
import copy
import json
import re
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from reports.photos import derived
from reports.sheet import render
from sync.sheet.letter import letter
from tests.support.drawn_photos import digest
from tests.support.golden_kinds import KINDS, SHOTS, data_of
from tests.support.pseudo import outside, pseudo

# What is the same in every language: Layby's name, units, a report, a currency; and the "and" of a list, which comes
# from the Unicode CLDR and not from us.
STAYS = "Layby psi kPa bar kg kJ Btu lb min rpm VIN IPCC COP EUR and"
CALENDAR = " ".join((*calendar.month_name, *calendar.month_abbr, "Sept"))
# Digests of editions and revisions, VINs.
NUMBERED = re.compile(r"\b(?=\w*\d)\w+\b")
# Words of two columns that the PDF reader puts together without a space.
JOINED = re.compile(r"(?<=[a-záéíóú])(?=[A-Z])")
MOST_PAGES = 3


@pytest.fixture(scope="module")
def unspoken(rulebook: dict[str, Any]) -> dict[str, Any]:
    """The rulebook with every book of English in the language that nobody speaks."""
    words = {tag: pseudo(tree) for tag, tree in rulebook["words"].items() if tag in ("en", "en-US")}
    return copy.copy(rulebook) | {"words": words}


def known(kind: str) -> str:
    """What people wrote themselves, even where a sentence begins with it, and what is the same in every language."""
    written = json.dumps(KINDS[kind], ensure_ascii=False)
    return " ".join((written, written.title(), STAYS, CALENDAR))


def pages_of(kind: str, rulebook: dict[str, Any]) -> list[str]:
    """The text of each page of a kind's sheet."""
    pictures = {digest(shot): derived(shot) for shot in SHOTS}
    reader = PdfReader(BytesIO(render(data_of(kind, rulebook), pictures)))
    return [JOINED.sub(" ", page.extract_text()) for page in reader.pages]


@pytest.mark.parametrize("kind", [kind for kind in KINDS if not kind.startswith("spanish")])
def test_every_word_of_a_sheet_comes_from_the_words(kind: str, unspoken: dict[str, Any]) -> None:
    """Two fifths longer, it still keeps to its pages and holds no sentence from elsewhere."""
    pages = pages_of(kind, unspoken)
    assert 1 <= len(pages) <= MOST_PAGES
    assert outside(NUMBERED.sub(" ", "\n".join(pages)), known(kind)) == []


def test_every_word_of_a_letter_comes_from_the_words(unspoken: dict[str, Any]) -> None:
    """Its subject, and the text that both its forms share."""
    visit, _ = KINDS["cleaned"]
    said = letter(visit, data_of("cleaned", unspoken), unspoken)
    text = " ".join((said["subject"], json.dumps(said, ensure_ascii=False)))
    assert outside(NUMBERED.sub(" ", text), known("cleaned") + json.dumps(sorted(said))) == []
