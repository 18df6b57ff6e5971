"""Type checks with isinstance.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(x: Any) -> Any:
    return [
        isinstance(x, dict),
        isinstance(x, list),
        isinstance(x, (list, tuple)),
        isinstance(x, str),
        isinstance(x, bool),
        isinstance(x, (int, float)),
        isinstance(x, int | float),
    ]
