"""A key looked up in a value that may be anything.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(d: Any, key: str) -> Any:
    return d[key]
