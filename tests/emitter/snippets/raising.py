"""Errors raised, caught by class and let through.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any

from sync.errors import LaybyError, OutOfRange


class TooMuch(LaybyError):
    """Too much."""

    code = "too_much"


def _check(x: float) -> float:
    if x > 10:
        raise TooMuch(value=x)
    if x < 0:
        raise OutOfRange(value=x, low=0, high=10)
    return x


def f(x: float) -> Any:
    try:
        return _check(x)
    except TooMuch as error:
        return [error.code, error.values]
    except (OutOfRange, TooMuch):
        # below
        return "below"


def g(x: float) -> Any:
    try:
        return _check(x)
    except OutOfRange:
        return 0
