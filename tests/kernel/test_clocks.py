"""What a clock counts down (common practice, no source)."""

from __future__ import annotations

import pytest

from sync.kernel.clocks import clock_limit_min


@pytest.mark.parametrize(("name", "minutes"), [
    ("dwell.condenser_cleaned", 10.0), ("dwell.gap_cleaned", 10.0), ("rinsed", 15.0), ("hold.vacuum", 15.0),
    ("hold.nitrogen_test", None), ("running.before", None),
])
def test_a_clock_counts_down_what_the_book_says(name, minutes, rulebook):
    """Ten minutes of cleaner, fifteen of drying and of holding a vacuum; nitrogen and the engine only count up."""
    assert clock_limit_min(name, rulebook) == minutes
