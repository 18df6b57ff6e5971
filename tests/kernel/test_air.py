"""Humid air against ASHRAE's published values and two independent libraries."""

from __future__ import annotations

import pytest

from sync.errors import OutOfRange
from sync.kernel import air

SEA_LEVEL = 101.325


@pytest.mark.parametrize(("celsius", "pascal"), [(-5, 401.74), (25, 3169.7), (100, 101418)])
def test_vapour_pressure_is_that_of_ashrae(rulebook, celsius, pascal):
    """ASHRAE Handbook Fundamentals 2017, chapter 1, table 3."""
    assert air.vapour_pressure_pa(celsius, rulebook) == pytest.approx(pascal, rel=2e-4)


@pytest.mark.parametrize(("celsius", "pascal"), [(20, 2339.32), (25, 3169.93), (30, 4246.97)])
def test_vapour_pressure_is_that_of_iapws(rulebook, celsius, pascal):
    """IAPWS-95, saturation pressures."""
    assert air.vapour_pressure_pa(celsius, rulebook) == pytest.approx(pascal, rel=2e-5)


@pytest.mark.parametrize(("celsius", "ratio"), [(-5, 0.0024863), (25, 0.020173), (50, 0.086863)])
def test_saturated_humidity_ratio_is_that_of_ashrae(rulebook, celsius, ratio):
    """ASHRAE Fundamentals 2017, chapter 1, table 2; its enhancement factor, some 0.5 %, we leave out."""
    assert air.humidity_ratio(celsius, 100.0, SEA_LEVEL, rulebook) == pytest.approx(ratio, rel=0.006)


def test_worked_example_of_ashrae(rulebook):
    """ASHRAE Fundamentals 2017, chapter 1, example 1: 40 °C dry bulb, 20 °C wet bulb at sea level."""
    low, high = 5.0, 25.0
    while high - low > 1e-6:
        humidity = (low + high) / 2
        low, high = (humidity, high) if air.wet_bulb_c(40.0, humidity, SEA_LEVEL, rulebook) < 20.0 else (low, humidity)
    assert humidity == pytest.approx(14.0, abs=0.5)
    ratio = air.humidity_ratio(40.0, humidity, SEA_LEVEL, rulebook)
    assert ratio == pytest.approx(0.0065, abs=0.0001)  # read from the chart
    assert air.enthalpy_kj_kg(40.0, ratio) == pytest.approx(56.7, abs=0.3)
    assert air.dew_point_c(40.0, humidity, rulebook) == pytest.approx(7.0, abs=0.5)  # read from the chart


@pytest.mark.parametrize("station", [70.0, 85.0, 101.0])
def test_two_independent_libraries_agree(rulebook, station):
    """Over 15–45 °C and 10–80 %: psychrolib (ASHRAE formulae) and CoolProp within 0.6 %, 0.9 kJ/kg and 0.02 K."""
    import psychrolib
    from CoolProp.HumidAirProp import HAPropsSI

    psychrolib.SetUnitSystem(psychrolib.SI)
    for celsius in range(15, 46, 5):
        for humidity in range(10, 81, 10):
            at = (celsius + 273.15, humidity / 100, station * 1000)
            ratio = air.humidity_ratio(celsius, humidity, station, rulebook)
            for other in (
                psychrolib.GetHumRatioFromRelHum(celsius, humidity / 100, station * 1000),
                HAPropsSI("W", "T", at[0], "R", at[1], "P", at[2]),
            ):
                assert ratio == pytest.approx(other, rel=0.006)
            enthalpy = HAPropsSI("H", "T", at[0], "R", at[1], "P", at[2]) / 1000
            assert air.enthalpy_kj_kg(celsius, ratio) == pytest.approx(enthalpy, abs=0.9)
            wet = psychrolib.GetTWetBulbFromRelHum(celsius, humidity / 100, station * 1000)
            assert air.wet_bulb_c(celsius, humidity, station, rulebook) == pytest.approx(wet, abs=0.02)


def test_wet_bulb_is_defined_over_the_whole_range(rulebook):
    """-30 to 104 °C, dry to saturated, 0 to 5,000 m: never above the dry bulb, equal to it when saturated."""
    for station in (54.0, 80.0, 101.3):
        for celsius in (-30.0, -5.0, 0.0, 20.0, 45.0, 60.0, 80.0):
            dry = air.wet_bulb_c(celsius, 0.0, station, rulebook)
            half = air.wet_bulb_c(celsius, 50.0, station, rulebook)
            full = air.wet_bulb_c(celsius, 100.0, station, rulebook)
            assert dry < half < full
            assert full == pytest.approx(celsius, abs=0.002)


@pytest.mark.parametrize(("celsius", "humidity"), [(25.0, -1.0), (25.0, 101.0), (150.0, 50.0), (float("nan"), 50.0)])
def test_impossible_air_is_an_error(rulebook, celsius, humidity):
    """Nothing is made up outside the range."""
    with pytest.raises(OutOfRange):
        air.humidity_ratio(celsius, humidity, SEA_LEVEL, rulebook)


def test_dry_air_has_no_dew_point_but_all_else(rulebook):
    """At humidity 0 only the dew point is unknown."""
    with pytest.raises(OutOfRange):
        air.dew_point_c(25.0, 0.0, rulebook)
    assert air.humidity_ratio(25.0, 0.0, SEA_LEVEL, rulebook) == 0.0
