"""Membership in dicts, lists, strings and values that may be any of them.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(d: dict[str, float], items: list[str], text: str, x: Any, name: str) -> Any:
    return [
        name in d,
        name in items,
        name in text,
        name in x,
        name not in d,
        name in ("a", "b"),
        None in items,
    ]
