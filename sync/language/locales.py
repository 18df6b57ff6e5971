"""Which language a reader gets: by the tags that they or their program ask for, and by the country they live in.

No sentence stands here. Regions differ in how numbers are written, and in a few words.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

# The language in which every sentence is written first, in its British form.
SPOKEN = "en"
# Where English is written as in the United States.
AMERICAN = ("US",)


def chosen(wanted: Iterable[str], known: Iterable[str], country: str | None = None) -> str:
    """The language tag that decides words and numbers.

    Args:
        wanted: language tags, such as es-MX, in order of preference [list of tags]
        known: the languages that have words [list of tags]
        country: where the reader lives; it overrides the tag's region [ISO 3166 code or None]

    Returns:
        The first wanted language that has words, with its region if known; English if none has [tag]
    """
    languages = {tag.split("-")[0] for tag in known}
    for tag in wanted:
        language, _, region = tag.strip().replace("_", "-").partition("-")
        if language.lower() in languages:
            return _regional(language.lower(), country or region.rpartition("-")[2])
    return _regional(SPOKEN, country or "")


def words_tag(tag: str) -> str:
    """The tag under which a language's words are filed; American English has its own tag [tag]."""
    language, _, region = tag.partition("-")
    return "en-US" if language == "en" and region in AMERICAN else language


def accepted(header: str) -> list[str]:
    """The tags of an `Accept-Language` header, in order of preference (RFC 9110, 12.5.4) [list of tags]."""
    ranked = []
    for place, part in enumerate(header.split(",")):
        tag, _, weight = part.strip().partition(";")
        quality = weight.strip().removeprefix("q=")
        try:
            liked = float(quality) if quality else 1.0
        except ValueError:
            liked = 0.0
        if tag.strip() and liked > 0:
            ranked.append((-liked, place, tag.strip()))
    return [tag for _, _, tag in sorted(ranked)]


@cache
def _known_locales() -> frozenset[str]:
    from babel.localedata import locale_identifiers

    return frozenset(locale_identifiers())


def _regional(language: str, region: str) -> str:
    tag = f"{language}_{region.upper()}"
    return tag.replace("_", "-") if region and tag in _known_locales() else language


@cache
def locale_of(tag: str) -> str:
    """Babel's name for how a language tag writes numbers and dates; for English, Britain's [name]."""
    return "en_GB" if tag == SPOKEN else tag.replace("-", "_")


def plural_of(tag: str, count: int | float) -> str:
    """Which plural form a count takes in a language (Unicode CLDR) [one of zero, one, two, few, many, other]."""
    from babel import Locale

    return str(Locale.parse(locale_of(tag)).plural_form(count))
