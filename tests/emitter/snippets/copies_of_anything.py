"""Copies of values whose kind is not known.

A piece of Python for the emitter; the tests call it, and it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(d: Any) -> Any:
    copy = dict(d["x"])
    copy["new"] = 1
    return [copy, d, len(d["x"]), list(d["x"])]
