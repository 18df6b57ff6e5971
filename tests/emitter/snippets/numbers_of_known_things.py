"""Numbers of numbers and of texts.

A piece of Python for the emitter; the tests call it, and it means nothing by itself.
"""

from __future__ import annotations

from math import floor, sqrt
from typing import Any


def f(x: float, text: str) -> Any:
    return [float(x), float(text), abs(x), floor(x), sqrt(x * x), floor(x / 2)]
