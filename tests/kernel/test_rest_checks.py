"""Rest reading, vacuum hold, cleaner's mix and CO2 equivalents against published values and plain arithmetic."""

from __future__ import annotations

import pytest

from sync.kernel import rest_checks


def resting(**rest):
    """A visit with one rest reading at sea level, R-134a."""
    base = {"id": "r", "low_kpa_g": 470.0, "high_kpa_g": 470.0, "metal_c": 20.0, "air_c": 20.0, "hours_off": 8.0}
    return {"vehicle": {"refrigerant": "R134a"}, "place": {"altitude_m": 0.0}, "rests": [{**base, **rest}]}


def test_rest_excess_is_the_pressure_over_saturation(rulebook):
    """Cengel & Boles, table A-11, from memory: R-134a at 20 °C 572.07 kPa; 600 kPa gauge is 129.3 kPa over."""
    found = rest_checks.rest_of(resting(low_kpa_g=600.0, high_kpa_g=600.0), rulebook)
    assert found["excess_kpa"]["value"] == pytest.approx(600 + 101.325 - 572.07, abs=1.0)
    assert found["finding"] == "above_saturation"
    assert rest_checks.rest_of(resting(), rulebook)["finding"] == "as_saturated"


@pytest.mark.parametrize(
    ("rest", "finding"),
    [
        ({"low_kpa_g": 300.0, "high_kpa_g": 300.0}, "below_saturation"),
        ({"low_kpa_g": 530.0, "high_kpa_g": 530.0}, "as_saturated"),  # 59 kPa over: under the 70 kPa of common practice
        ({"low_kpa_g": 350.0}, "gauges_disagree"),
        ({"hours_off": 0.5}, "not_rested"),
        ({"metal_c": 27.0}, "not_rested"),
        ({"metal_c": None, "air_c": None}, "not_enough"),
    ],
)
def test_rest_findings(rulebook, rest, finding):
    """Flagged only beyond 70 kPa or twice the uncertainty; both gauges should agree (common practice, no source)."""
    assert rest_checks.rest_of(resting(**rest), rulebook)["finding"] == finding


def test_carbon_dioxide_above_31_degrees_has_no_rest_saturation(rulebook):
    """R-744: critical 30.98 °C (Span & Wagner 1996, through CoolProp)."""
    visit = resting(metal_c=33.0, low_kpa_g=7000.0, high_kpa_g=7000.0)
    visit["vehicle"] = {"refrigerant": "R744"}
    assert rest_checks.rest_of(visit, rulebook) == {"excess_kpa": None, "finding": "above_critical"}


def test_no_rest_reading_is_none(rulebook):
    """Absent is absent."""
    assert rest_checks.rest_of({"id": "v"}, rulebook) is None


@pytest.mark.parametrize(
    ("pressure", "held", "rise", "finding"),
    [
        (50.0, 20.0, 10.0, "held"),
        (50.0, 20.0, 2000.0, "rose_toward_water"),  # IAPWS: water boils at 2339.32 Pa at 20 °C
        (50.0, 20.0, 400.0, "rose"),
        (50.0, 20.0, 9000.0, "rose"),
        (66.0, 5.0, 1.0, "held_too_short"),
        (400.0, 20.0, 1.0, "not_deep"),  # 500 micron is 66.66 Pa (NIST SP 811)
        (50.0, None, None, "hold_not_recorded"),
    ],
)
def test_vacuum_findings(rulebook, pressure, held, rise, finding):
    """A plateau under the vapour pressure of water points to moisture, another rise to a leak (common practice)."""
    move = {"id": "m", "kind": "vacuum", "pressure_pa": pressure, "held_min": held, "rise_pa": rise}
    assert rest_checks.vacuum_of({"refrigerant_moves": [move]}, rulebook)["finding"] == finding


def test_one_part_to_four(rulebook):
    """Common practice, no source: one to four, about ten minutes, twice where much dirt comes out."""
    mix = {"parts_cleaner": 1.0, "parts_water": 4.0, "made_ml": 1500.0, "passes": 2, "dwell_min": 10.0}
    found = rest_checks.cleaner_of({"work": [{"id": "w", "cleaner": mix}]}, rulebook)
    assert found["cleaner_ml"] == pytest.approx(300.0)
    assert found["water_ml"] == pytest.approx(1200.0)
    assert found["per_pass_ml"] == pytest.approx(750.0)
    assert found["findings"] == []


def test_stronger_than_one_to_three_is_named(rulebook):
    """Common practice, no source; the label governs."""
    mix = {"parts_cleaner": 1.0, "parts_water": 2.5, "dwell_min": 20.0}
    found = rest_checks.cleaner_of({"work": [{"id": "w", "cleaner": mix}]}, rulebook)
    assert found["findings"] == ["stronger_than_usual", "left_longer_than_usual"]


@pytest.mark.parametrize(
    ("refrigerant", "grams", "kg", "report"),
    [
        ("R134a", 500.0, 765.0, "AR6"),
        ("R12", 100.0, 1250.0, "AR6"),
        ("R152a", 1000.0, 138.0, "AR5"),
        ("R744", 350.0, 0.35, "AR6"),
    ],
)
def test_co2_equivalents_by_the_newest_report(rulebook, refrigerant, grams, kg, report):
    """GWP100 of the IPCC: R-134a 1530 and R-12 12500 (AR6), R-152a 138 (AR5), R-744 1."""
    move = {"id": "m", "kind": "charged", "refrigerant": refrigerant, "grams": grams}
    found = rest_checks.co2e_of({"refrigerant_moves": [move, {"id": "d", "kind": "dye_added"}]}, rulebook)
    assert found == [{"move": "m", "kg": pytest.approx(kg), "report": report}]


def test_a_mix_of_less_than_no_water_is_none(rulebook):
    """Minus one part to one part would be a division by zero."""
    mix = {"parts_cleaner": 1.0, "parts_water": -1.0, "made_ml": 1500.0}
    assert rest_checks.cleaner_of({"work": [{"id": "w", "cleaner": mix}]}, rulebook) is None
