"""Functions of numbers whose type is unknown.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from math import floor, sqrt
from typing import Any


def f(d: Any) -> Any:
    return [abs(d["x"]), floor(d["x"]), sqrt(d["y"])]
