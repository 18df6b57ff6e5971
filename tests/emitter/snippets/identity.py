"""Identity with None, True and False.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(x: Any) -> Any:
    return [x is None, x is not None, x is True, x is False]
