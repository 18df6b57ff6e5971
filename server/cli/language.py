"""The language of a command: which one it is, and its sentences by code.

This is the one place where the command line decides; what words something asks `sync.language.reader`. Nothing is read
but the books that the command needs, so that `--help` answers at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache

from sync import rulebook
from sync.errors import LaybyError
from sync.language import reader
from sync.language.locales import chosen
from sync.language.words import Words

OPTION = "--lang"
VARIABLE = "LAYBY_LANGUAGE"
# By which a system says how it speaks, the first that is set before the others (POSIX.1-2017, 8.2).
USUAL = ("LC_ALL", "LC_MESSAGES", "LANG")
# The books that the command line says things from.
COMMANDS, DESK, ERRORS = "commands", "desk", "errors"


def language_of(typed: Sequence[str], environment: Mapping[str, str]) -> str:
    """The language of a command: `--lang`, else LAYBY_LANGUAGE, else what the system says; English where that is C.

    Args:
        typed: the words of the command line [texts]
        environment: the variables of the process [mapping]

    Returns:
        a language that there are words in, with its region where one is known [tag]
    """
    system = next((environment[name] for name in USUAL if environment.get(name)), "")
    wanted = [_typed(typed), environment.get(VARIABLE, ""), system]
    tag = next((one for one in wanted if one), "").partition(".")[0].partition("@")[0]
    try:
        return chosen([tag], rulebook.languages(COMMANDS))
    except ImportError:
        # `layby check` runs where packages are missing, and says which; only the region needs one.
        return chosen([tag.replace("_", "-").partition("-")[0]], rulebook.languages(COMMANDS))


def _typed(words: Sequence[str]) -> str:
    """What stands behind `--lang`, before the parser is there, whose own sentences depend on it."""
    for place, word in enumerate(words):
        if word == OPTION:
            return words[place + 1] if place + 1 < len(words) else ""
        if word.startswith(f"{OPTION}="):
            return word.removeprefix(f"{OPTION}=")
    return ""


def words(*books: str) -> Words:
    """A few books of words in the reader's language; without names the commands' own.

    Args:
        books: COMMANDS, DESK, ERRORS [names]
    """
    return _words(books or (COMMANDS,), reader.language())


@cache
def _words(books: tuple[str, ...], language: str) -> Words:
    return Words(rulebook.some_words(books, language), language)


def say(code: str, **values: str | float) -> str:
    """A sentence of the book `commands`, by its code within it [text]."""
    return words().say(f"{COMMANDS}.{code}", **values)


def error(error: LaybyError) -> str:
    """What is wrong, where and what to do [text]."""
    return words(ERRORS).error(error)


def decimal(value: float) -> str:
    """A number with one decimal, as the reader writes it [text]."""
    try:
        from sync.language.formats import Formats
    except ImportError:
        # As in `language_of`.
        return f"{value:.1f}"
    return Formats(reader.language()).number(value, 1)


def short_day(day: date) -> str:
    """A day as the reader writes it [text]."""
    from sync.language.formats import Formats

    return Formats(reader.language()).short_day(day)
