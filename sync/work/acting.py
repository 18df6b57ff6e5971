"""Who is acting: the person for whom the work that goes on now is done at the desk.

Nothing here knows a session. The code that knows who asks (the desk's pages, for each request) says so once, and what
is filed on the way bears that person.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar, Token

_PERSON: ContextVar[str] = ContextVar("layby-acting", default="")


def begin(person: str) -> Token[str]:
    """Let a person act in this thread until `end`.

    Args:
        person: who, "" for nobody in particular [id]

    Returns:
        what `end` needs [Token]
    """
    return _PERSON.set(person)


def end(token: Token[str]) -> None:
    """Nobody acts any more but who did before."""
    _PERSON.reset(token)


@contextmanager
def acting_as(person: str) -> Iterator[None]:
    """Let a person act in this thread until the end of the block.

    Args:
        person: who, "" for nobody in particular [id]
    """
    token = begin(person)
    try:
        yield
    finally:
        end(token)


def acting() -> str:
    """Who is acting now; "" for nobody in particular, such as a command [id]."""
    return _PERSON.get()
