"""The published rows as visits: each has its source, can be read, and gives what CoolProp gives."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
from CoolProp.CoolProp import PropsSI

from sync.wire.schemas import check_visit
from tests.worlds.draws import CAUSES
from tests.worlds.features import quantities_of
from tests.worlds.published import PublishedRow, faulty_rows, healthy_rows
from tests.worlds.rule_of_thumb import visits

SEA_LEVEL_KPA = 101.325


def rows_of(rulebook: Any) -> list[PublishedRow]:
    """Every row, of healthy cars and of faults."""
    return healthy_rows(rulebook) + faulty_rows()


def saturation_c(kpa_gauge: float) -> float:
    """Saturation temperature of R-134a at sea level [°C]."""
    kelvin: float = PropsSI("T", "P", 1000.0 * (kpa_gauge + SEA_LEVEL_KPA), "Q", 0, "R134a")
    return kelvin - 273.15


def test_every_row_has_a_source_and_is_a_sound_visit(rulebook: Any) -> None:
    """Each has a maker and a source; ends and middles come in equal numbers."""
    rows = rows_of(rulebook)
    assert all(row.maker and row.source for row in rows)
    assert all(check_visit(row.visit, rulebook) == [] for row in rows)
    assert {row.cause for row in rows} <= set(CAUSES)
    assert len(set(Counter(row.end for row in rows).values())) == 1


def test_pressures_are_plausible(rulebook: Any) -> None:
    """Kilopascals at a gauge: vacuum to 600 on the low side, up to 3,000 on the high side, and well apart."""
    for row in rows_of(rulebook):
        [test] = row.visit["tests"]
        low, high = (test["readings"].get(name) for name in ("low_kpa_g", "high_kpa_g"))
        assert low is None or -SEA_LEVEL_KPA < low <= 600.0
        assert high is None or 400.0 <= high <= 3000.0
        apart = 500.0 if row.cause == "healthy" else 250.0
        assert low is None or high is None or high - low > apart


def test_ends_lie_around_their_middle(rulebook: Any) -> None:
    """Each printed range as low, middle, high, in that order."""
    rows = rows_of(rulebook)
    for low, middle, high in zip(rows[::3], rows[1::3], rows[2::3], strict=True):
        assert [row.end for row in (low, middle, high)] == ["low", "middle", "high"]
        assert low.source == middle.source == high.source
        for name, value in middle.visit["tests"][0]["readings"].items():
            ends = [row.visit["tests"][0]["readings"][name] for row in (low, high)]
            assert min(ends) - 1.0 <= value <= max(ends) + 1.0


def test_middles_of_healthy_rows_derive_what_coolprop_says(rulebook: Any) -> None:
    """23 of them state the outside air; their saturation and split match CoolProp within 0.15 K."""
    middles = [(row, row.ambient) for row in healthy_rows(rulebook) if row.end == "middle" and row.ambient is not None]
    assert len(middles) >= 23
    for row, ambient_c in middles:
        quantities, _ = quantities_of(row.visit, rulebook)
        readings = row.visit["tests"][0]["readings"]
        assert quantities["low_saturation_c"] == pytest.approx(saturation_c(readings["low_kpa_g"]), abs=0.15)
        split_k = saturation_c(readings["high_kpa_g"]) - ambient_c
        assert quantities["condenser_split_k"] == pytest.approx(split_k, abs=0.15)


def test_the_rule_of_thumb_gives_thirty_sound_visits(rulebook: Any) -> None:
    """Nine rows by three, and three without a vent; 35 psi is 241 kPa, 70 °F is 21.1 °C."""
    drawn = visits()
    assert len(drawn) == 30
    assert all(check_visit(visit, rulebook) == [] for visit in drawn)
    [test] = drawn[0]["tests"]
    assert (test["readings"]["low_kpa_g"], test["conditions"]["ambient_c"]) == (241.0, 21.1)
    assert sum("vent_c" not in visit["tests"][0]["readings"] for visit in drawn) == 3
