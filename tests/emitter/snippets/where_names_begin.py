"""Names first assigned in blocks, in loops and together.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(xs: list[float], flag: bool) -> Any:
    if flag:
        word = 1
        only = word + 1
        word = only
    else:
        word = 2
    found = []
    for x in xs:
        if x > 1:
            before = x
            found.append(before)
        if len(found) > 0:
            found.append(before)
    for x in xs:
        inner = x * 2
        found.append(inner)
    for x in [1.0]:
        found.append(x)
    first = second = word
    second = second + 1
    left, right = second, first
    left, right = right, left
    d: dict[str, Any] = {}
    d["a"], other = (left, right)
    flag = not flag
    return [found, x, word, first, second, left, right, d, other, flag]
