"""Which language a reader gets, and how it writes numbers and days."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from sync.language.formats import Formats
from sync.language.locales import accepted, chosen, words_tag

KNOWN = ("en", "en-US", "es")


@pytest.mark.parametrize(("wanted", "country", "tag"), [
    (["es-MX", "en"], None, "es-MX"),
    (["de", "es"], None, "es"),
    (["de"], None, "en"),
    (["de"], "US", "en-US"),
    (["es"], "US", "es-US"),
    (["en-US"], "GB", "en-GB"),
    (["EN_us"], None, "en-US"),
    (["es-XX"], None, "es"),
    ([""], "ES", "en-ES"),
    ([], None, "en"),
])
def test_a_reader_gets_the_best_liked_language_there_is(wanted: list[str], country: str | None, tag: str) -> None:
    """A country overrides the region of a tag; an unknown region is left out."""
    assert chosen(wanted, KNOWN, country) == tag


@pytest.mark.parametrize(("header", "tags"), [
    # RFC 9110, 12.5.4: "I prefer Danish, but will accept British English and other types of English."
    ("da, en-gb;q=0.8, en;q=0.7", ["da", "en-gb", "en"]),
    ("en;q=0.2, es", ["es", "en"]),
    ("es;q=0, en", ["en"]),
    ("es;q=often, en", ["en"]),
    ("", []),
    (",;,", []),
])
def test_a_header_is_read_by_its_weights(header: str, tags: list[str]) -> None:
    """The example of the RFC, and what browsers and hostile clients send."""
    assert accepted(header) == tags


def test_american_words_are_for_america() -> None:
    """British words elsewhere; a region of Spanish has no words of its own."""
    assert [words_tag(tag) for tag in ("en", "en-GB", "en-US", "es-US")] == ["en", "en", "en-US", "es"]


# The Unicode CLDR, as its charts show it for these languages (cldr.unicode.org, numbers and date formats).
@pytest.mark.parametrize(("tag", "number", "money", "day"), [
    ("en", "−12,345.7", "1,129.90", "12 June 2026"),
    ("en-US", "−12,345.7", "1,129.90", "June 12, 2026"),
    ("es", "−12.345,7", "1.129,90", "12 de junio de 2026"),
    ("es-MX", "−12,345.7", "1,129.90", "12 de junio de 2026"),
])
def test_numbers_and_days_are_written_as_in_their_region(tag: str, number: str, money: str, day: str) -> None:
    """Separators, the true minus sign, the order of a day's parts."""
    formats = Formats(tag)
    assert formats.number(-12345.678, 1) == number
    assert formats.exact(Decimal("1129.9"), 2) == money
    assert formats.day(date(2026, 6, 12)) == day


def test_a_number_is_rounded_half_away_from_zero() -> None:
    """As the rulebook rounds, not as a decimal library would; a zero keeps no sign."""
    assert [Formats("en").number(value, 0) for value in (2.5, -2.5, -0.4)] == ["3", "−3", "0"]


def test_things_in_a_row_have_their_last_and() -> None:
    """British English without a comma before it, American with."""
    assert Formats("en").listed(["a", "b", "c"]) == "a, b and c"
    assert Formats("en-US").listed(["a", "b", "c"]) == "a, b, and c"
    assert Formats("es").listed(["a", "b"]) == "a y b"
    assert Formats("es").listed([]) == ""
