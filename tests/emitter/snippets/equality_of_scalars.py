"""Equality of what may be anything but a list or a dict.

A piece of Python for the emitter; the tests call it, and it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(x: Any, y: Any) -> Any:
    return [x == y, x != y]
