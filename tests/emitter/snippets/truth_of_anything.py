"""Truth of values whose type is unknown.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(x: Any) -> Any:
    found = 0
    if x:
        found = 1
    elif not x:
        found = 2
    return [found, bool(x), "yes" if x else "no", x or "other", not x]
