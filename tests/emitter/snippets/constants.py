"""Every kind of constant.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f() -> Any:
    return [None, True, False, 0, 7, 1.5, 1e-7, 1_000, "", 'q"\n\u2028é\U0001f697', -3]
