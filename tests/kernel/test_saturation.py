"""Saturation tables against independent correlations and the Clapeyron equation.

The published tables are in tests/vectors/calls/saturation.json.
"""

from __future__ import annotations

import pytest

from sync.errors import OutOfRange, UnknownName
from sync.kernel import saturation
from sync.physics import refrigerant

TABLED = ["R134a", "R1234yf", "R12", "R152a", "R744"]


def test_r1234yf_has_the_critical_point_of_its_equation(rulebook):
    """Richter et al. 2011, from memory: 94.7 °C, 3382.2 kPa; Lemmon & Akasaka 2022 gives 3384.4 kPa."""
    row = rulebook["refrigerants"]["refrigerants"]["R1234yf"]
    assert row["critical_c"] == pytest.approx(94.7, abs=0.1)
    assert row["critical_kpa"] == pytest.approx(3382.2, rel=0.001)


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # thermo leaves its data files open
@pytest.mark.parametrize("name", [name for name in TABLED if name != "R1234yf"])  # thermo knows only CoolProp for it
def test_independent_correlations_agree(rulebook, name):
    """Vapour-pressure correlations collected in `chemicals`/`thermo`: VDI within 0.1 %, the median within 0.35 %.

    COOLPROP and HEOS_FIT are CoolProp again; ANTOINE_WEBBOOK misses for CO2; each method only inside its own limits.
    """
    import gc
    from statistics import median

    from thermo.vapor_pressure import VaporPressure

    cas = {"R134a": "811-97-2", "R1234yf": "754-12-1", "R12": "75-71-8", "R152a": "75-37-6", "R744": "124-38-9"}[name]
    source = VaporPressure(CASRN=cas)
    left_out = {"COOLPROP", "HEOS_FIT"} | ({"ANTOINE_WEBBOOK"} if name == "R744" else set())
    table = saturation.table_of(name, rulebook)
    compared = 0
    for celsius in range(-30, 71, 10):
        if not table["t_c"][0] <= celsius <= table["t_c"][-1]:
            continue
        ours = saturation.pressure_kpa(name, celsius, rulebook)
        ratios = {}
        for method in source.all_methods - left_out:
            low, high = source.T_limits[method]
            if low <= celsius + 273.15 <= high:
                ratios[method] = source.calculate(celsius + 273.15, method) / 1000 / ours
        for method in [method for method in ratios if method.startswith("VDI")]:
            assert ratios[method] == pytest.approx(1, abs=0.001), f"{name} at {celsius} °C by {method}"
            compared += 1
        if len(ratios) > 1:
            assert median(ratios.values()) == pytest.approx(1, abs=0.0035), f"{name} at {celsius} °C: {ratios}"
            compared += 1
    assert compared > 0
    gc.collect()  # so that what thermo left open is reported here and not in another test


@pytest.mark.parametrize("name", TABLED)
def test_slope_obeys_clapeyron(rulebook, name):
    """At the middle of each segment dT/dp of the table is T·Δv/h_fg to 0.5 % (Clapeyron's equation)."""
    import CoolProp

    table = saturation.table_of(name, rulebook)
    fluid = rulebook["refrigerants"]["refrigerants"][name]["fluid"]
    state = CoolProp.AbstractState("HEOS", fluid)
    for i in range(len(table["p_kpa"]) - 1):
        low, high = table["p_kpa"][i], table["p_kpa"][i + 1]
        slope = (table["t_c"][i + 1] - table["t_c"][i]) / ((high - low) * 1000)
        middle = (low + high) / 2 * 1000
        state.update(CoolProp.PQ_INPUTS, middle, 0.0)
        liquid_volume, liquid_enthalpy, kelvin = 1 / state.rhomass(), state.hmass(), state.T()
        state.update(CoolProp.PQ_INPUTS, middle, 1.0)
        clapeyron = kelvin * (1 / state.rhomass() - liquid_volume) / (state.hmass() - liquid_enthalpy)
        assert slope == pytest.approx(clapeyron, rel=0.005), f"{name} at {middle / 1000:.0f} kPa"


@pytest.mark.parametrize("name", TABLED)
def test_stated_error_holds_against_the_equation_of_state(rulebook, name):
    """Between the nodes the table is within its stated error of CoolProp, and that is at most 0.01 K."""
    table = saturation.table_of(name, rulebook)
    fluid = rulebook["refrigerants"]["refrigerants"][name]["fluid"]
    assert table["max_error_k"] <= 0.01
    low, high = table["p_kpa"][0], table["p_kpa"][-1]
    for step in range(1, 997):
        p = low * (high / low) ** (step / 997)
        exact = refrigerant.saturation_temperature_c(fluid, p)
        assert abs(saturation.temperature_c(name, p, rulebook) - exact) <= table["max_error_k"] * 1.2 + 1e-4


@pytest.mark.parametrize("name", TABLED)
def test_pressure_to_temperature_and_back_returns_the_pressure(rulebook, name):
    """P → T → P."""
    table = saturation.table_of(name, rulebook)
    low, high = table["p_kpa"][0], table["p_kpa"][-1]
    for step in range(0, 101):
        p = low + (high - low) * step / 100
        t = saturation.temperature_c(name, p, rulebook)
        assert saturation.pressure_kpa(name, t, rulebook) == pytest.approx(p, rel=1e-9)


@pytest.mark.parametrize("pressure", [0.0, -5.0, 5.0, 1e6, float("nan"), float("inf")])
def test_outside_the_table_is_an_error_with_a_code(rulebook, pressure):
    """Nothing extrapolates."""
    with pytest.raises(OutOfRange) as caught:
        saturation.temperature_c("R134a", pressure, rulebook)
    assert caught.value.code == "out_of_range"


def test_a_refrigerant_without_a_table_is_named(rulebook):
    """`other` has no saturation pressure."""
    with pytest.raises(UnknownName) as caught:
        saturation.temperature_c("other", 300.0, rulebook)
    assert caught.value.values["name"] == "other"


@pytest.mark.parametrize(
    ("altitude", "pascal"), [(500, 95460.8), (1000, 89874.6), (2000, 79495.2), (3000, 70108.5)]
)  # fmt: skip
def test_the_place_has_the_standard_atmosphere(rulebook, altitude, pascal):
    """US Standard Atmosphere 1976 / ISO 2533, geopotential altitude."""
    assert saturation.station_kpa(altitude, rulebook) == pytest.approx(pascal / 1000, rel=2e-5)


@pytest.mark.parametrize(("altitude", "kpa"), [(500, 95.461), (1000, 89.875)])
def test_the_place_agrees_with_ashrae(rulebook, altitude, kpa):
    """ASHRAE Handbook Fundamentals 2017, chapter 1, table 1."""
    assert saturation.station_kpa(altitude, rulebook) == pytest.approx(kpa, abs=0.002)


def test_the_place_agrees_with_an_independent_library(rulebook):
    """`fluids` computes the 1976 atmosphere by geometric altitude; below 3,000 m that differs by under 0.03 %."""
    from fluids import ATMOSPHERE_1976

    for altitude in range(-400, 5001, 300):
        ours = saturation.station_kpa(altitude, rulebook)
        assert ours == pytest.approx(ATMOSPHERE_1976(altitude).P / 1000, rel=6e-4)
