"""Sums, products and signs, with brackets where they are needed.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(x: float, y: float) -> Any:
    return [x + y * 2 - -x / 4, (x + y) * (x - y), x - (y - x), x / (y / 3), -(x + y), x * -y]
