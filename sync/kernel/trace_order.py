"""The points of a trace in rising time, however they came: typed one by one, or many at once from a logger's file.

Nothing is judged here; points of the same second keep their order.
"""

from __future__ import annotations

from typing import cast

from sync.kernel.json_tree import Json


def in_time(points: list[Json]) -> list[Json]:
    """The points in rising time; points of the same time stay as they came.

    Args:
        points: each with its seconds `s` [JSON objects]

    Returns:
        the same points [JSON objects]

    Source: the merge sort from the bottom up, written out because the languages' own sorts differ.
    """
    order, width = points, 1
    if not any(_second(points[i]) < _second(points[i - 1]) for i in range(1, len(points))):
        return points
    while width < len(order):
        merged: list[Json] = []
        start = 0
        while start < len(order):
            merged.extend(_merged(order[start : start + width], order[start + width : start + 2 * width]))
            start = start + 2 * width
        order, width = merged, 2 * width
    return order


def _merged(left: list[Json], right: list[Json]) -> list[Json]:
    merged: list[Json] = []
    i = 0
    for point in right:
        while i < len(left) and not _second(point) < _second(left[i]):
            merged.append(left[i])
            i = i + 1
        merged.append(point)
    return [*merged, *left[i : len(left)]]


def _second(point: Json) -> float:
    return cast(dict[str, float], point)["s"]
