"""TypedDicts in both forms, and names for types.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any, TypedDict


class Size(TypedDict):
    """A size."""

    value: float
    sure: bool


class Row(TypedDict, total=False):
    """A row."""

    name: str
    size: Size
    marks: list[str]


Pair = TypedDict("Pair", {"for": float, "in": float})
Rows = list[Row]


def f(rows: Rows) -> Any:
    found: list[Size] = []
    for row in rows:
        size = row.get("size")
        if size is not None and size["sure"]:
            found.append({"value": size["value"], "sure": True})
        if row.get("marks") or row.get("name", "") == "x":
            found.append({"value": 0, "sure": False})
    pair: Pair = {"for": 1, "in": 2}
    return [found, pair]
