"""Functions of numbers whose kind is not known.

A piece of Python for the emitter; the tests call it, and it means nothing by itself.
"""

from __future__ import annotations

from math import floor, sqrt
from typing import Any


def f(d: Any) -> Any:
    return [abs(d["x"]), floor(d["x"]), sqrt(d["y"])]
