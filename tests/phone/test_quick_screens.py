"""The screens of the quick test: readable, big enough to touch, whole on small phones and with large text.

The rules are axe-core's and the project's own sizes; screens are found by their marks, so that any language will do.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from sync import rulebook
from tests.phone.test_any_language import STAYS, Looked, books_that_nobody_speaks, strange_to, vocabulary
from tests.phone.test_screens import SMALL_TARGETS, TOO_WIDE, at_twice_the_size, in_both
from tests.support.browser import phone
from tests.support.desk import desk_with
from tests.support.pseudo import outside
from tests.support.quick_hands import Thumb
from tests.support.service import Service

Look = Callable[[str], None]
SPANISH = {"locale": "es-ES", "args": ["--accept-lang=es-ES,es"]}
OUT_OF_REACH = 740  # px; a thumb does not get to the top fifth of the usual phone


def to_facts(page: Page, look: Look) -> None:
    """The panel of altitude and units: 300 m, and of each quantity the first unit, psi and °C."""
    page.locator(".facts button").click()
    panel = page.locator(".panel")
    for choice in panel.locator(".choices").all():
        choice.locator("label").first.click()
    for digit in "300":
        panel.locator(f'[data-key="{digit}"]').click()
    look("facts")
    panel.locator('[data-key="next"]').click()
    expect(panel).to_have_count(0)


def to_table(page: Page, look: Look) -> None:
    """From the first page over the other refrigerants and a flammable one to the table."""
    page.locator("#foot button").last.click()
    expect(page.locator(".panel")).to_be_visible()
    look("others")
    page.locator(".panel .close").click()
    page.locator("#foot .outlined").first.click()
    expect(page.locator("#foot button")).to_have_count(2)
    look("one more")
    page.locator("#foot .outlined").click()
    page.locator("#foot .main").click()
    expect(page.locator("#foot .pad")).to_be_visible()


def walk_quick(page: Page, look: Look) -> None:
    """Every screen of one quick test, in whatever language."""
    page.locator("#foot .outlined").click()
    expect(page.locator("#foot button")).to_have_count(3)
    look("start")
    page.locator(".start .row button").click()
    expect(page.locator(".panel input")).to_be_visible()
    look("find")
    page.locator(".panel .close").click()
    to_facts(page, look)
    to_table(page, look)
    look("pad")
    thumb = Thumb(page)
    thumb.keys("82")
    expect(page.locator(".asking")).to_be_visible()
    look("question")
    page.locator(".asking button").last.click()
    thumb.keys("<<33>25~45>290")
    look("reading")
    thumb.keys(">14>=38>228>8")
    expect(page.locator(".live")).to_be_visible()
    look("verdict")
    thumb.keys(">")
    expect(page.locator(".end .finding")).to_be_visible()
    page.locator("details.row summary").last.click()
    look("end")
    page.locator(".more").click()
    expect(page.locator("#foot .pad")).to_be_visible()
    look("more")
    page.locator(".strip-line button").click()
    expect(page.locator("#foot .pad")).to_have_count(0)
    look("more, pad away")


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_screen_is_accessible_and_can_be_touched(language: str, service: Service) -> None:
    """axe-core finds nothing in the sun or at dusk, targets are 48 px, and text at 200 % stays on the screen."""
    wrong: list[str] = []

    def look(name: str) -> None:
        found = [*in_both(page), *page.evaluate(SMALL_TARGETS), *at_twice_the_size(page)]
        wrong.extend(f"{name}: {line}" for line in found)

    with phone(bypass_csp=True, **(SPANISH if language == "es" else {})) as handset:
        page = handset.open(service.url, paired=False)
        walk_quick(page, look)
        assert wrong == []
        assert handset.complaints == []


@pytest.mark.parametrize("size", [(320, 640), (360, 740), (430, 932)])
def test_the_table_and_the_pad_fit_on_one_screen(size: tuple[int, int], service: Service) -> None:
    """Nothing runs out of any phone; cells and keys need no scrolling and lie below the top fifth."""
    width, height = size
    top = min(height, OUT_OF_REACH) / 5
    wide: list[str] = []
    high: list[str] = []

    def look(name: str) -> None:
        wide.extend(f"{name}: {line}" for line in page.evaluate(TOO_WIDE))
        if name in ("pad", "reading"):
            places = page.evaluate(PLACES)
            high.extend(f"{name}: {one}" for one, middle, bottom in places if bottom > height or middle < top)

    with phone(viewport={"width": width, "height": height}) as handset:
        page = handset.open(service.url, paired=False)
        walk_quick(page, look)
    assert wide == []
    assert high == []


PLACES = """() => [...document.querySelectorAll('.cell, #foot .key')].map(one => {
  const { top, bottom, height } = one.getBoundingClientRect();
  return [one.getAttribute('aria-label') ?? one.textContent, top + height / 2, bottom];
})"""


def test_a_language_that_nobody_speaks_fills_the_quick_test(tmp_path: Path) -> None:
    """No text comes from elsewhere, and two fifths more of it run out of no screen."""
    books = books_that_nobody_speaks(tmp_path)
    with desk_with(books, tmp_path / "layby") as url, phone() as handset:
        page = handset.open(url, paired=False)
        looked = Looked(page)
        walk_quick(page, looked)
        assert handset.complaints == []
    strange = {name: outside(" ".join(texts), STAYS) for name, texts in looked.texts.items()}
    assert {name: words for name, words in strange.items() if words} == {}
    assert looked.wide == []


def test_a_spanish_phone_speaks_spanish(service: Service) -> None:
    """No word that English alone has, on a phone of 320 px."""
    strange = strange_to("es") - vocabulary(STAYS)
    with phone(**SPANISH, viewport={"width": 320, "height": 568}) as handset:
        page = handset.open(service.url, paired=False)
        looked = Looked(page)
        walk_quick(page, looked)
        expect(page.locator("h1")).to_have_text("Prueba rápida")
    found = {name: sorted(vocabulary(" ".join(texts)) & strange) for name, texts in looked.texts.items()}
    assert {name: words for name, words in found.items() if words} == {}
    assert looked.wide == []
    assert rulebook.load()["words"]["es"]["quick"]["title"] == "Prueba rápida"
