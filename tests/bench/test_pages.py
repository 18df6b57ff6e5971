"""The bar of the desk's pages with many visits on file; minutes, so only with `python3 tests --long`."""

from __future__ import annotations

import statistics
from pathlib import Path

import pytest

from tests.bench.bench_pages import compared, made

TIMES_MOST = 3.0


@pytest.mark.long
def test_a_vehicles_page_takes_at_most_three_times_a_days_page(tmp_path: Path) -> None:
    """With 20,000 visits on file, both in turn in one run, by their medians."""
    made(tmp_path / "layby", 20_000)
    day, vehicle = compared(tmp_path / "layby")
    assert statistics.median(vehicle) <= TIMES_MOST * statistics.median(day), (day, vehicle)
