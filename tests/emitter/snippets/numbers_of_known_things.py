"""Numbers from numbers and strings.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from math import floor, sqrt
from typing import Any


def f(x: float, text: str) -> Any:
    return [float(x), float(text), abs(x), floor(x), sqrt(x * x), floor(x / 2)]
