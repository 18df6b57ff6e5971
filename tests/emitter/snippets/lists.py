"""Lists changed, sliced and copied.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(xs: list[float], at: int) -> Any:
    made = list(xs)
    made.insert(at, 9)
    made.append(8)
    made.extend([7, *xs])
    made.remove(7)
    made[0] = -1
    return [
        made,
        len(made),
        made.index(8),
        made[-1],
        made[1:],
        made[:-1],
        made[1:2],
        [*made, 0],
        xs,
    ]
