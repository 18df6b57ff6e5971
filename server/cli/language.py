"""The language of a command: which one it is, and its sentences by code.

This is the only place where the command line decides; code that needs words asks `sync.language.reader`. Only the books
that the command needs are read, so that `--help` answers at once.
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
# The variables that set a system's language, the first one set before the others (POSIX.1-2017, 8.2).
USUAL = ("LC_ALL", "LC_MESSAGES", "LANG")
# The books from which the command line takes its sentences.
COMMANDS, DESK, ERRORS = "commands", "desk", "errors"


def language_of(typed: Sequence[str], environment: Mapping[str, str]) -> str:
    """The language of a command: `--lang`, else LAYBY_LANGUAGE, else the system's; English if that is C.

    Args:
        typed: the words on the command line [texts]
        environment: the variables of the process [mapping]

    Returns:
        a language that has words, with its region if known [tag]
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
    """The value of `--lang`, before the parser exists, because the parser's own sentences depend on it."""
    for place, word in enumerate(words):
        if word == OPTION:
            return words[place + 1] if place + 1 < len(words) else ""
        if word.startswith(f"{OPTION}="):
            return word.removeprefix(f"{OPTION}=")
    return ""


def words(*books: str) -> Words:
    """A few books of words in the reader's language; without names, the commands' own.

    Args:
        books: COMMANDS, DESK, ERRORS [names]
    """
    return _words(books or (COMMANDS,), reader.language())


@cache
def _words(books: tuple[str, ...], language: str) -> Words:
    return Words(rulebook.some_words(books, language), language)


def say(code: str, **values: str | float) -> str:
    """A sentence of the book `commands`, by its code there [text]."""
    return words().say(f"{COMMANDS}.{code}", **values)


def error(error: LaybyError) -> str:
    """What is wrong, where, and what to do [text]."""
    return words(ERRORS).error(error)


def decimal(value: float) -> str:
    """A number with one decimal, as the reader writes it [text]."""
    try:
        from sync.language.formats import Formats
    except ImportError:
        # See `language_of`.
        return f"{value:.1f}"
    return Formats(reader.language()).number(value, 1)


def short_day(day: date) -> str:
    """A day as the reader writes it [text]."""
    from sync.language.formats import Formats

    return Formats(reader.language()).short_day(day)
