"""The current reader: the language in which the answer being worked out now is written.

No sentence and no choice is made here. The code that answers a person (the command line; for each request, the service)
sets the reader once, and any code that needs words on the way asks for it.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from sync.kernel.books import Rulebook
from sync.language.locales import SPOKEN
from sync.language.words import Words

_LANGUAGE: ContextVar[str] = ContextVar("layby-reader", default=SPOKEN)


@contextmanager
def reading(language: str) -> Iterator[None]:
    """Use a language until the end of the block, in this thread.

    Args:
        language: from `locales.chosen` [tag]
    """
    before = _LANGUAGE.set(language)
    try:
        yield
    finally:
        _LANGUAGE.reset(before)


def language() -> str:
    """The reader's language; English if none was set [tag]."""
    return _LANGUAGE.get()


def words_of(rulebook: Rulebook) -> Words:
    """The words in the reader's language [Words]."""
    return Words(rulebook["words"], language())
