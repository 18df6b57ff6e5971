"""The phone's language: which words it takes, which its worker keeps, and numbers and days as the desk writes them.

A real Chromium; the desk's own numbers are Babel's, the phone's are those of the browser, both by the Unicode CLDR.
"""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from sync import rulebook
from sync.language.formats import Formats
from sync.language.locales import chosen, words_tag
from sync.language.words import Words, blanks_of
from tests.support.browser import Phone, phone
from tests.support.desk import desk_with
from tests.support.hands import ready_offline, saved, start_visit, write
from tests.support.service import ROOT, Service

TAGS = ("en", "en-GB", "en-US", "es", "es-MX", "es-US")
NUMBERS = [
    (value, decimals)
    for value in (0, -0.04, 0.05, 2.5, -2.5, 7, -12.34, 999.95, 1234.5, -1234.5, 12345.678, 9876543.21)
    for decimals in (0, 1, 2, 3)
]
AMOUNTS = ["0.00", "65", "-65.00", "1129.90", "-1129.90", "93.331800", "1234567.05", "98765432101234.99"]
DAYS = ["2026-01-01", "2026-02-28", "2026-06-12", "2026-09-30", "2026-12-31"]
LISTS = [["A"], ["A", "B"], ["A", "B", "C"], ["low side", "vent", "fan", "hood"], ["A", "Inés"]]

# What the desk and the phone write differently, and why. Nothing else may differ.
E_BEFORE_I = "A y Inés", "A e Inés"  # a browser knows that Spanish says "e" before the sound of an i; Babel does not
SEPT = "30 sep 2026", "30 sept 2026"  # the month's short form of the United States, in which the two differ
KNOWN = {"es": {E_BEFORE_I}, "es-MX": {E_BEFORE_I}, "es-US": {E_BEFORE_I, SEPT}}

WRITE = """async ([tag, numbers, amounts, days, lists]) => {
  const { $language_formats: formats } = await import('/page.js');
  const { useFormats, number, exact, dayAt, day, shortDay, month, listed } = formats;
  useFormats(tag);
  return {
    number: numbers.map(([value, decimals]) => number(value, decimals)),
    exact: amounts.map((text) => exact(text)),
    day: days.map((text) => day(dayAt(text))),
    short_day: days.map((text) => shortDay(dayAt(text))),
    month: days.map((text) => month(dayAt(text))),
    listed: lists.map((items) => listed(items)),
  };
}"""


def by_the_desk(tag: str) -> dict[str, list[str]]:
    """The same values as the desk writes them."""
    formats, days = Formats(tag), [date.fromisoformat(text) for text in DAYS]
    return {
        "number": [formats.number(value, decimals) for value, decimals in NUMBERS],
        "exact": [formats.exact(Decimal(text), len(text.partition(".")[2])) for text in AMOUNTS],
        "day": [formats.day(day) for day in days],
        "short_day": [formats.short_day(day) for day in days],
        "month": [formats.month(day) for day in days],
        "listed": [formats.listed(items) for items in LISTS],
    }


@pytest.mark.parametrize("tag", TAGS)
def test_phone_and_desk_write_numbers_days_and_lists_alike(tag: str, handset: Phone, service: Service) -> None:
    """Digits, separators, order and the true minus sign, by two programs that read the same tables."""
    page = handset.open(service.url)
    asked = [tag, [list(pair) for pair in NUMBERS], AMOUNTS, DAYS, LISTS]
    phone_s, desk_s = page.evaluate(WRITE, asked), by_the_desk(tag)
    assert set(phone_s) == set(desk_s)
    pairs = [pair for kind in desk_s for pair in zip(desk_s[kind], phone_s[kind], strict=True)]
    assert {pair for pair in pairs if pair[0] != pair[1]} == KNOWN.get(tag, set())


CASES = [
    ["en-GB"], ["en-US", "en"], ["es-MX", "en"], ["de", "es"], ["de"], [], ["pt-BR", "en-US"], ["es"], ["es-419"],
]
OFFERED = ["en", "en-US", "es"]


def test_the_page_chooses_as_the_desk_does(handset: Phone, service: Service) -> None:
    """The first preferred language that has words, American English if requested, otherwise English."""
    page = handset.open(service.url)
    told = page.evaluate(
        "async ([cases, offered]) => {"
        " const { chosen } = (await import('/page.js')).$language_chosen;"
        " return cases.map((wanted) => chosen(wanted, offered)); }", [CASES, OFFERED],
    )
    assert told == [words_tag(chosen(wanted, OFFERED)) for wanted in CASES]


def marked(tree: Any) -> Any:
    """Words with every sentence in brackets, so that text from elsewhere shows."""
    if isinstance(tree, dict):
        return {name: marked(inner) for name, inner in tree.items()}
    return f"\u27e6{tree}\u27e7" if tree else tree


@contextmanager
def desk_with_spanish(service: Service, ground: Path) -> Iterator[None]:
    """The same desk on the same port, with words in Spanish: here, the English ones in brackets."""

    books = ground / "books"
    shutil.copytree(rulebook.FOLDER, books)
    shutil.rmtree(books / "words" / "es", ignore_errors=True)
    (books / "words" / "es").mkdir()
    for path in (books / "words" / "en").glob("*.json"):
        words = marked(json.loads(path.read_text("utf-8")))
        (books / "words" / "es" / path.name).write_text(json.dumps(words), "utf-8")
    with desk_with(books, service.folder, service.port):
        yield


@contextmanager
def handset_in(language: str, profile: Path) -> Iterator[Phone]:
    """A phone whose browser asks for a language, in its pages and its workers alike."""
    with phone(profile, locale=None, args=[f"--accept-lang={language}"]) as made:
        yield made


KEPT = """async () => {
  const [name] = (await caches.keys()).filter((one) => one.startsWith("layby-"));
  const requests = await (await caches.open(name)).keys();
  return requests.map(({ url }) => new URL(url).pathname).filter((path) => path.startsWith("/words/"));
}"""
# Every text on the screen, and every spoken name, that contains a word.
SHOWN = r"""() => {
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const texts = [];
  while (walker.nextNode()) if (walker.currentNode.parentElement.checkVisibility()) texts.push(walker.currentNode.data);
  const spoken = [...document.querySelectorAll("[aria-label]")].map((one) => one.getAttribute("aria-label"));
  return [...texts, ...spoken].filter((text) => /\p{L}{2}/u.test(text));
}"""


def language_of(page: Page) -> tuple[str, str]:
    """What the page says its language is, and the name of its settings."""
    name = page.get_by_role("link", name="Settings").inner_text()
    return page.evaluate("document.documentElement.lang"), name


def test_a_spanish_phone_gets_spanish_and_keeps_it(service: Service, tmp_path: Path) -> None:
    """In its screens, its numbers and its worker, even out of reach of the desk; no text comes from anywhere else."""
    service.stop()
    with handset_in("es-MX,es,en", tmp_path / "profile") as handset:
        with desk_with_spanish(service, tmp_path):
            page = handset.open(service.url, paired=False)
            ready_offline(page)
            assert language_of(page) == ("es", "\u27e6Settings\u27e7")
            assert page.evaluate(KEPT) == ["/words/es.json"]
        page.reload()
        ready_offline(page)
        assert language_of(page) == ("es", "\u27e6Settings\u27e7")
        for path in ("/", "/#settings", "/#carry", "/pair"):
            page.goto(service.url + path)
            expect(page.get_by_role("heading", level=1)).to_contain_text("\u27e6")
            shown = [text for text in page.evaluate(SHOWN) if "\u27e6" not in text]
            assert shown == [], path
        assert handset.complaints == []


def test_a_phone_that_changes_its_language_gets_what_is_kept_until_the_desk_is_there(
    service: Service, tmp_path: Path
) -> None:
    """Out of reach the kept language, and the page says which; within reach the other, which then stays."""
    service.stop()
    with desk_with_spanish(service, tmp_path), handset_in("en-GB,en", tmp_path / "profile") as handset:
        page = handset.open(service.url, paired=False)
        ready_offline(page)
        visit = start_visit(page, "M. Okafor")
        saved(page)
    with handset_in("es-ES,es,en", tmp_path / "profile") as handset:
        page = handset.open(service.url, paired=False)
        ready_offline(page)
        assert language_of(page) == ("en", "Settings")
        assert page.evaluate(KEPT) == ["/words/en.json"]
        page.goto(f"{service.url}/visit/{visit}/customer")
        expect(page.get_by_label("Customer", exact=True)).to_have_value("M. Okafor")
        write(page, "Phone", "555-0123")
        saved(page)
        shutil.rmtree(tmp_path / "books")
        with desk_with_spanish(service, tmp_path):
            page.goto(service.url)
            ready_offline(page)
            assert language_of(page) == ("es", "\u27e6Settings\u27e7")
        page.reload()
        ready_offline(page)
        assert language_of(page) == ("es", "\u27e6Settings\u27e7")
        assert handset.complaints == []


def test_a_page_whose_words_do_not_come_says_so(service: Service) -> None:
    """In words that came with the page itself, where it would otherwise stay empty."""
    with phone() as handset:
        page = handset.open("about:blank", paired=False)
        page.route("**/words/*.json", lambda route: route.abort())
        page.goto(service.url)
        expect(page.get_by_text("Layby couldn't start. Nothing that was saved is lost.")).to_be_visible()


def test_a_code_without_words_is_seen_at_once(handset: Phone, service: Service) -> None:
    """A slip in a code, and a blank that nothing fills, are errors; a term without a word is shown itself."""
    page = handset.open(service.url)
    told = page.evaluate("""async () => {
      const { say, has, term } = (await import('/page.js')).$language_words;
      const tried = (code, values) => {
        try {
          return say(code, values);
        } catch (error) {
          return `${error.name}: ${error.message}`;
        }
      };
      return [
        tried("phone.nothing.here"), tried("phone.day"), tried("phone.typed.read_as"),
        tried("phone.day.entries", { count: 1 }), tried("phone.day.entries", { count: 12 }),
        has("phone.day.start"), has("phone.day.stop"), term("work", "not_named"),
      ];
    }""")
    assert told == [
        "RangeError: no words for phone.nothing.here", "RangeError: no words for phone.day",
        "RangeError: no number for phone.typed.read_as", "1 entry still to be filed.", "12 entries still to be filed.",
        True, False, "not named",
    ]


def test_every_code_of_the_page_has_words_and_no_words_stand_idle() -> None:
    """Every complete code that the page uses exists; a sentence that nothing could use isn't kept."""
    source = "\n".join(path.read_text("utf-8") for path in sorted((ROOT / "pwa").rglob("*.js")))
    book = r"(?:phone|causes|visit\.(?:result|price|cleaner_finding))"
    whole = set(re.findall(rf"""["'`]({book}(?:\.\w+)+)["'`]""", source))
    groups = set(re.findall(r"`((?:phone|visit|causes)(?:\.\w+)+)[._]?\$\{", source))
    books = rulebook.load()["words"]
    words, beginnings = Words(books), tuple({*groups, *NAMED_APART})
    assert [code for code in sorted(whole) if words.find(code) is None] == []
    assert [code for code in sorted(groups) if words.find(code) is words.find(code.rpartition(".")[0]) is None] == []
    said = set(codes_of(books["en"]["phone"], "phone"))
    assert sorted(code for code in said - whole if not code.startswith(beginnings)) == []


# What the service fills into the page, and groups whose last name comes from a function.
NAMED_APART = ("phone.start.", "phone.settings.", "phone.instrument.")


def codes_of(tree: Any, code: str) -> Iterator[str]:
    """The codes of all sentences below one; plural forms are one sentence."""
    if isinstance(tree, str) or set(tree) <= {"zero", "one", "two", "few", "many", "other"}:
        yield code
        return
    for name, inner in tree.items():
        yield from codes_of(inner, f"{code}.{name}")


def test_languages_of_the_phone_have_the_same_sentences_and_blanks() -> None:
    """Each language says everything English says, with the same blanks; a region may say less."""
    books = rulebook.load()["words"]
    english = books["en"]["phone"]
    for tag in (tag for tag in rulebook.phone_languages() if "phone" in books[tag]):
        other, told = Words({"en": books[tag]}), set(codes_of(books[tag]["phone"], "phone"))
        assert "-" in tag or told == set(codes_of(english, "phone")), tag
        for code in told:
            ours, theirs = (_blanks(one.find(code)) for one in (Words(books), other))
            assert theirs == ours, (tag, code)


def _blanks(sentence: Any) -> set[str]:
    forms = sentence.values() if isinstance(sentence, dict) else [sentence]
    return {blank for form in forms for blank in blanks_of(form)} - {"count"}
