"""Copies of values whose type is unknown.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(d: Any) -> Any:
    copy = dict(d["x"])
    copy["new"] = 1
    return [copy, d, len(d["x"]), list(d["x"])]
