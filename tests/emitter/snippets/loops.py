"""Loops with a beginning, an end and a way out.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(xs: list[float]) -> Any:
    total, seen = 0.0, []
    for i in range(len(xs)):
        if xs[i] < 0:
            continue
        if xs[i] > 100:
            break
        total += xs[i]
        last = xs[i]
        seen.append(last)
    i = 0
    while i < 3:
        i = i + 1
        total = total * 2 - i
    return [total, seen, i, [j for j in range(2, 5)], [j for j in range(3, 1)]]
