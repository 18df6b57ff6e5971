"""Numbers from values whose type is unknown.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(x: Any) -> float:
    return float(x)
