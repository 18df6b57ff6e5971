"""A name that is looked up in what may be anything.

A piece of Python for the emitter; the tests call it, and it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(d: Any, key: str) -> Any:
    return d[key]
