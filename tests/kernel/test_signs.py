"""How plates, VINs and telephones are compared (common practice, no source: with and without what stands between)."""

from __future__ import annotations

import pytest

from sync.kernel.contradictions import beyond
from sync.kernel.signs import unsigned
from sync.records.findable import squeezed

ALIKE = ("LT-482", "lt 482", "L.T.482", "LT\u00a0482", "LT\u2013482", "L/T 4-82", "lt\u2011482")


@pytest.mark.parametrize("text", ALIKE)
def test_one_plate_is_one_however_it_is_written(text: str) -> None:
    """On the phone and in the desk's register alike."""
    assert unsigned(text) == "LT482"
    assert squeezed(text) == squeezed("LT482")


def test_letters_beyond_the_alphabet_stay() -> None:
    """A plate with an umlaut is another one than without."""
    assert unsigned("K\u00d6 12") == "K\u00d612"
    assert squeezed("K\u00d6 12") != squeezed("K 12")


@pytest.mark.parametrize(("row", "value", "odd"), [
    ({"type": "number", "range": [0, 600]}, -5.0, True), ({"type": "number", "range": [0, 600]}, 0.0, False),
    ({"type": "number", "range": [0, 600]}, 601.0, True), ({"type": "number"}, -5.0, False),
])
def test_a_figure_beyond_its_range_is_asked_about(row, value, odd) -> None:
    """The ends belong to it; a field without a range asks nothing."""
    assert beyond(row, value) is odd
