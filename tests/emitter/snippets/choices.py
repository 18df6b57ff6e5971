"""Conditions, chained comparisons and the values chosen by them.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(a: float, b: float) -> Any:
    return [
        "lt" if a < b else "eq" if a == b else "gt",
        a <= b <= 3,
        not a > b,
        a >= b or b != 2 and a == 1,
        0 < a < b,
    ]
