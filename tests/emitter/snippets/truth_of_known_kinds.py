"""Truth of values whose type is known.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(
    number: float,
    text: str,
    some: list[float],
    names: dict[str, float],
    flag: bool,
    maybe: str | None,
) -> Any:
    found = []
    for name, holds in (("n", bool(number)), ("t", bool(text)), ("f", flag)):
        if holds:
            found.append(name)
    if some:
        found.append("l")
    if names:
        found.append("d")
    if maybe:
        found.append("m")
    while number:
        number = number - 1
    return [found, flag and len(text) > 0, maybe or "x"]
