"""Linear look-up in rising columns: the one way the rules read a table.

Nothing here knows what the columns mean, and nothing extrapolates.
"""

from __future__ import annotations

from math import floor

from sync.errors import OutOfRange


def between(xs: list[float], ys: list[float], x: float) -> float:
    """The value at x, linear between the neighbouring nodes.

    Args:
        xs: rising nodes, at least two [any]
        ys: values at the nodes [any]
        x: where to read [unit of xs]

    Returns:
        the interpolated value [unit of ys]

    Valid for: xs[0] <= x <= xs[-1].

    Raises:
        OutOfRange: x lies outside the nodes or is not a number.

    Source: linear interpolation; the tables state their measured error.
    """
    last = len(xs) - 1
    if not xs[0] <= x <= xs[last]:
        raise OutOfRange(value=x, low=xs[0], high=xs[last])
    low = 0
    high = last
    # Where the nodes lie evenly, as those of water and air do, this is the place at once.
    place = floor((x - xs[0]) / (xs[last] - xs[0]) * last)
    if place < last and xs[place] <= x < xs[place + 1]:
        low = place
        high = place + 1
    while high - low > 1:
        middle = floor((low + high) / 2)
        if x < xs[middle]:
            high = middle
        else:
            low = middle
    return ys[low] + (x - xs[low]) / (xs[high] - xs[low]) * (ys[high] - ys[low])
