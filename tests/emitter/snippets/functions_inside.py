"""Functions passed as arguments, nested and kept in a table.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any


def _twice(rule: Callable[[float], float], x: float, times: int = 2) -> float:
    for _ in range(times):
        x = rule(x)
    return x


def f(x: float) -> Any:
    def more(y: float) -> float:
        step = 2
        return y + x * step

    less = lambda y: y - x
    return [
        _twice(more, 1.0),
        _twice(less, 1.0, times=3),
        _twice(lambda y: y * y, 3),
        RULES["more"](2),
    ]


def _more(x: float) -> float:
    return x + 1


RULES: dict[str, Callable[[float], float]] = {"more": _more}
