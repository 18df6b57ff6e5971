"""Reading a table between its nodes, against NumPy's own linear interpolation."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from sync.errors import OutOfRange
from sync.kernel.interpolation import between

LONGEST = 512  # nodes that a search in fixed strides reaches


def columns(rulebook: Any) -> list[tuple[list[float], list[float]]]:
    """Every table of the rulebook, in each direction in which its nodes rise."""
    names = [name for name in rulebook if name.startswith("saturation_")]
    tables = [(rulebook[name]["p_kpa"], rulebook[name]["t_c"]) for name in names]
    tables += [(rulebook["water"]["t_c"], rulebook["water"]["p_pa"])]
    both = [*tables, *((ys, xs) for xs, ys in tables)]
    return [*both, (rulebook["atmosphere"]["altitude_m"], rulebook["atmosphere"]["p_kpa"])]


def uneven(count: int) -> tuple[list[float], list[float]]:
    """A table whose nodes crowd at its start."""
    return [1.02**i for i in range(count)], [float(i % 7) for i in range(count)]


def test_a_table_is_read_as_numpy_reads_it(rulebook: Any) -> None:
    """At every node, between all of them, and in the longest and the shortest table there may be."""
    for xs, ys in [*columns(rulebook), uneven(LONGEST), uneven(3), uneven(2)]:
        assert len(xs) <= LONGEST
        points = [*xs, *np.linspace(xs[0], xs[-1], 2000).tolist()]
        points += [(one + other) / 2.0 for one, other in pairwise(xs)]
        found = [between(xs, ys, min(x, xs[-1])) for x in points]
        np.testing.assert_allclose(found, np.interp(points, xs, ys), rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("beyond", [0.999, 1.02**9 * 1.001, float("nan")])
def test_nothing_is_read_beyond_a_table(beyond: float) -> None:
    """Below the first node, above the last, and a value that isn't a number."""
    with pytest.raises(OutOfRange):
        between(*uneven(10), beyond)
