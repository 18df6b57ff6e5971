"""Entries of dicts, present and absent.

A piece of Python for the emitter; the tests call it, and it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(d: dict[str, Any], key: str) -> Any:
    return [
        d["a"],
        d["deep"]["x"],
        d.get(key),
        d.get(key, 5),
        d.get("none"),
        d.get("zero", 3),
        d.get("absent"),
        (d.get("absent") or {}).get("x"),
        len(d),
        d["list"][0],
        d["list"][-1],
    ]
