"""Equality of values that may be anything but a list or a dict.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(x: Any, y: Any) -> Any:
    return [x == y, x != y]
