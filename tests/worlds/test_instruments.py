"""Invented instruments against what their class and the rule of uncertainty say; nothing is solved here."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from tests.worlds.instruments import COMMON_SHARE, Reader, draw_instruments
from tests.worlds.world import Weather

SEA_LEVEL = Weather(32.0, 45.0, 101.3, 0.3)


def test_gauge_errors_stay_within_their_class_and_share() -> None:
    """Standard deviation is class/√3 of span, and the share of its variance common to a visit is as stated."""
    errors = []
    for seed in range(4000):
        rng = Random(f"gauge {seed}")
        tools = replace(draw_instruments(rng), class_pct=1.6, high_span_kpa=3500.0)
        limit = 56.0
        tools = replace(tools, high_common=rng.uniform(-limit, limit) * COMMON_SHARE**0.5)
        reader = Reader(tools, rng, SEA_LEVEL)
        errors.append([reader.high(1500.0) - (1500.0 - SEA_LEVEL.pressure_kpa) for _ in range(2)])
    variance = sum(a * a for a, _ in errors) / len(errors)
    assert variance**0.5 == pytest.approx(56.0 / 3.0**0.5, rel=0.05)
    assert sum(a * b for a, b in errors) / len(errors) / variance == pytest.approx(COMMON_SHARE, abs=0.05)


def test_readings_have_the_steps_that_a_person_reads() -> None:
    """High side to 5 kPa, low side to 1 kPa, air to 0.1 K; a hygrometer never shows more than 100 %."""
    rng = Random(7)
    for _ in range(200):
        reader = Reader(draw_instruments(rng), rng, SEA_LEVEL)
        assert reader.high(1500.0) % 5.0 == 0.0
        assert reader.low(300.0) % 1.0 == 0.0
        shown = reader.air(21.37)
        assert shown == round(shown, 1)
        assert 1.0 <= reader.damp(99.9) <= 100.0


def test_a_perfect_reader_reads_what_is_there() -> None:
    """Gauges minus the air's pressure, all else unchanged."""
    reader = Reader(draw_instruments(Random(1)), Random(1), SEA_LEVEL, perfect=True)
    assert (reader.low(301.3), reader.high(1501.3)) == pytest.approx((200.0, 1400.0))
    assert (reader.air(21.37), reader.clamp(8.123), reader.damp(45.6)) == (21.37, 8.123, 45.6)
