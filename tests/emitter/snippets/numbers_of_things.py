"""Numbers of values whose kind is not known.

A piece of Python for the emitter; the tests call it, and it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(x: Any) -> float:
    return float(x)
