"""The reader of this moment: in which language what is being worked out now is said.

Nothing is said or chosen here. Whoever answers a person (the command line, the service for each request) sets it once,
and whatever words something on the way asks for it.
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
    """Say everything in a language until the end of the block, in this thread.

    Args:
        language: from `locales.chosen` [tag]
    """
    before = _LANGUAGE.set(language)
    try:
        yield
    finally:
        _LANGUAGE.reset(before)


def language() -> str:
    """The language of the reader; English where nobody said which [tag]."""
    return _LANGUAGE.get()


def words_of(rulebook: Rulebook) -> Words:
    """The words in the reader's language [Words]."""
    return Words(rulebook["words"], language())
