"""A phone in another language: one visit without a desk, on whose screens everything is in that language.

A real Chromium. The first language is one that nobody speaks, made from English; it shows what doesn't come from the
words and what a longer language would cut off. The second is Spanish, as committed.
"""

from __future__ import annotations

import calendar
import json
import re
import shutil
from pathlib import Path

from playwright.sync_api import Page, expect

from sync import rulebook
from sync.language.words import Words
from tests.support.browser import phone
from tests.support.desk import desk_with
from tests.support.pseudo import outside, pseudo
from tests.support.service import Service
from tests.support.walk_by_code import SHOWN, TOO_WIDE, WRITTEN, walk

# What is the same in every language: names of Layby and its commands, of formats, of a lamp in a car and of an oil.
STAYS = "Layby layby pair receipt txt VIN QR EUR JPEG PNG READY PAG"
# Names of days and months are the browser's own.
CALENDAR = " ".join((*calendar.day_name, *calendar.day_abbr, *calendar.month_name, *calendar.month_abbr))
# Digests, numbers of devices and vehicles.
NUMBERED = re.compile(r"\b(?=\w*\d)\w+\b|\b[0-9a-f]{8}\b")
WORD = re.compile(r"[^\W\d_]{2,}")
# The smallest phone still in use, in CSS pixels.
SMALL = {"width": 320, "height": 568}
SHOWN_BOOKS = (*rulebook.PHONE_WORDS, "help")


class Looked:
    """What was on each screen, and what was too wide for it."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.texts: dict[str, list[str]] = {}
        self.wide: list[str] = []

    def __call__(self, name: str) -> None:
        """Look at a screen."""
        self.texts[name] = [NUMBERED.sub(" ", text) for text in self.page.evaluate(SHOWN)]
        self.wide += [f"{name}: {line}" for line in self.page.evaluate(TOO_WIDE)]


def books_that_nobody_speaks(ground: Path) -> Path:
    """A copy of the rulebook whose only language is English with other vowels."""
    books = ground / "books"
    shutil.copytree(rulebook.FOLDER, books)
    for place in (books / "words").glob("*/"):
        if place.name != "en":
            shutil.rmtree(place)
    for path in (books / "words" / "en").glob("*.json"):
        path.write_text(json.dumps(pseudo(json.loads(path.read_text("utf-8"))), ensure_ascii=False), "utf-8")
    return books


def test_a_language_that_nobody_speaks_fills_every_screen(tmp_path: Path) -> None:
    """No text except what people wrote comes from elsewhere, and nothing two fifths longer overflows the screen."""
    books = books_that_nobody_speaks(tmp_path)
    with desk_with(books, tmp_path / "layby") as url, phone() as handset:
        page = handset.open(url, paired=False)
        looked = Looked(page)
        walk(page, Words(rulebook.load(books)["words"]), looked)
        assert handset.complaints == []
    strange = {name: outside(" ".join(texts), f"{WRITTEN} {STAYS} {CALENDAR}") for name, texts in looked.texts.items()}
    assert {name: words for name, words in strange.items() if words} == {}
    assert looked.wide == []


def vocabulary(tree: object) -> set[str]:
    """Every word of a book, in small letters."""
    if isinstance(tree, dict):
        return set().union(*(vocabulary(inner) for inner in tree.values()))
    return set(WORD.findall(str(tree).lower()))


def strange_to(tag: str) -> set[str]:
    """English words that a language doesn't have; those of a book that it lacks are still in English."""
    books = rulebook.load()["words"]
    english = {book: vocabulary(books["en"][book]) for book in SHOWN_BOOKS}
    own = {book: vocabulary(books[tag][book]) if book in books[tag] else english[book] for book in SHOWN_BOOKS}
    return set().union(vocabulary(CALENDAR), *english.values()) - set().union(*own.values())


def test_a_spanish_phone_speaks_spanish_without_a_desk(service: Service) -> None:
    """No word that only English has is on any screen of a visit, and nothing overflows a small screen."""
    strange = strange_to("es") - vocabulary(f"{WRITTEN} {STAYS}")
    assert {"phone", "photos", "november"} <= strange
    asked = {"locale": "es-ES", "args": ["--accept-lang=es-ES,es"], "viewport": SMALL}
    with phone(**asked) as handset:
        page = handset.open(service.url, paired=False)
        expect(page.locator("#offline")).to_contain_text("funciona sin conexión")
        service.stop()
        page.reload()
        looked = Looked(page)
        walk(page, Words(rulebook.load()["words"], "es"), looked)
        assert page.evaluate("document.documentElement.lang") == "es"
        assert handset.complaints == []
    found = {name: sorted(vocabulary(" ".join(texts)) & strange) for name, texts in looked.texts.items()}
    assert {name: words for name, words in found.items() if words} == {}
    assert looked.wide == []
