"""Linear look-up in rising columns: the only way the rules read a table.

Nothing here knows what the columns mean, and nothing extrapolates.
"""

from __future__ import annotations

from math import floor

from sync.errors import OutOfRange

# The strides of a search by halves, written out so that their sizes need no rounding.
STEPS = (256, 128, 64, 32, 16, 8, 4, 2, 1)


def between(xs: list[float], ys: list[float], x: float) -> float:
    """The value at x, linear between the neighbouring nodes.

    Args:
        xs: rising nodes, from two to 512 [any]
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
    first, end = xs[0], xs[last]
    if not first <= x <= end:
        raise OutOfRange(value=x, low=first, high=end)
    # If the nodes are evenly spaced, as those of water and air are, this is the place at once.
    low = floor((x - first) / (end - first) * last)
    if low == last or not xs[low] <= x < xs[low + 1]:
        low = 0
        for step in STEPS:
            if low + step < last and xs[low + step] <= x:
                low = low + step
    at, value = xs[low], ys[low]
    return value + (x - at) / (xs[low + 1] - at) * (ys[low + 1] - value)
