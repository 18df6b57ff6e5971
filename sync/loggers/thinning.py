"""Thinning: of many points those that keep a log's shape: both ends, and the lowest and highest of each reading.

The rule is minimum and maximum by equal stretches of time; nothing is averaged.
"""

from __future__ import annotations

from math import floor

from sync.loggers.book import LoggersBook

Points = list[dict[str, float]]


def thinned(points: Points, book: LoggersBook) -> Points:
    """At most as many points as a file may leave in a log.

    Args:
        points: in rising time [s, canonical units]
        book: the book of loggers [LoggersBook]

    Returns:
        the first of each second; of more than the limit the first and the last, and from each of as many equal
        stretches as fit those with the lowest and the highest value of each reading [s, canonical units]

    Source: minimum and maximum by interval, as in Jugel et al., "M4: A Visualization-Oriented Time Series Data
        Aggregation", VLDB 2014 (from memory).
    """
    single: Points = []
    for point in points:
        if len(single) == 0 or point["s"] > single[-1]["s"]:
            single.append(point)
    most = book["most"]["points"]
    if len(single) <= most:
        return single
    names = [name for name in book["channels"] if any(name in point for point in single)]
    stretches = floor((most - 2) / (2.0 * len(names)))
    start, end = single[0]["s"], single[-1]["s"]
    kept = [False for _ in single]
    kept[0] = True
    kept[len(single) - 1] = True
    for name in names:
        _keep_extremes(single, name, (start, (end - start) / stretches, stretches), kept)
    return [single[i] for i in range(len(single)) if kept[i]]


def _keep_extremes(points: Points, name: str, cut: tuple[float, float, int], kept: list[bool]) -> None:
    """Mark the lowest and the highest value of each stretch; the first where several are alike."""
    start, width, count = cut
    stretch, lowest, highest = -1, -1, -1
    for i in range(len(points)):
        if name not in points[i]:
            continue
        place = floor((points[i]["s"] - start) / width)
        if place > count - 1:
            place = count - 1
        if place > stretch:
            _mark((lowest, highest), kept)
            stretch, lowest, highest = place, i, i
        if points[i][name] < points[lowest][name]:
            lowest = i
        if points[i][name] > points[highest][name]:
            highest = i
    _mark((lowest, highest), kept)


def _mark(places: tuple[int, int], kept: list[bool]) -> None:
    for place in places:
        if place >= 0:
            kept[place] = True
