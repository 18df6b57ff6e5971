"""Whole numbers of any size.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any, TypedDict

from sync.kernel.primitives import Whole

BIG: Whole = 10_000_000_000_000_000_001


class Sum(TypedDict):
    """A sum."""

    total: Whole
    parts: list[Whole]


def _of(text: str) -> Whole:
    value: Whole = int(text)
    return value


def f(one: str, other: str) -> Any:
    a, b = _of(one), _of(other)
    made: Sum = {"total": 0, "parts": [a, 2]}
    for part in made["parts"]:
        made["total"] = made["total"] + part * 3
    text = [str(a // b), str(a * b - BIG), str(-a), str(made["total"]), f"{a}"]
    a += 1
    return [text, str(a), a == b, a < b, a > 0, b != 3, str(b if a > 5 else 0)]
