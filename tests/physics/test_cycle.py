"""The ideal cycle against textbook examples, by enthalpy differences, because the reference states differ."""

from __future__ import annotations

import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from sync.physics import cycle, diagnosis, refrigerant

TON_KW = 3.5169  # refrigeration ton, NIST SP 811 (from memory)


def test_moran_and_shapiro_example_10_1():
    """From memory: R-134a, 0 °C saturated vapour, 26 °C saturated liquid, 0.08 kg/s: 1.40 kW, 3.67 tons, COP 9.24."""
    found = cycle.ideal("R134a", 0.0, 26.0)
    assert found["work_kj_kg"] * 0.08 == pytest.approx(1.40, rel=0.012)
    assert found["effect_kj_kg"] * 0.08 / TON_KW == pytest.approx(3.67, rel=0.012)
    assert found["cop"] == pytest.approx(9.24, rel=0.012)


def test_moran_and_shapiro_example_10_2():
    """From memory: -10 °C, 9 bar saturated liquid, 0.08 kg/s: 2.48 kW, 3.23 tons, COP 4.57."""
    found = cycle.ideal("R134a", -10.0, refrigerant.saturation_temperature_c("R134a", 900.0))
    assert found["work_kj_kg"] * 0.08 == pytest.approx(2.48, rel=0.012)
    assert found["effect_kj_kg"] * 0.08 / TON_KW == pytest.approx(3.23, rel=0.012)
    assert found["cop"] == pytest.approx(4.57, rel=0.012)


def test_moran_and_shapiro_example_10_3():
    """From memory: example 10.2 with 80 % isentropic efficiency and liquid at 30 °C: 3.10 kW, 3.41 tons, COP 3.86."""
    work = cycle.ideal("R134a", -10.0, refrigerant.saturation_temperature_c("R134a", 900.0))["work_kj_kg"] / 0.8
    effect = cycle.ideal("R134a", -10.0, 30.0)["effect_kj_kg"]
    assert work * 0.08 == pytest.approx(3.10, rel=0.012)
    assert effect * 0.08 / TON_KW == pytest.approx(3.41, rel=0.012)
    assert effect / work == pytest.approx(3.86, rel=0.012)


def test_cengel_and_boles_example_11_1():
    """From memory: R-134a, 0.14 to 0.8 MPa, 0.05 kg/s: cooling 7.18 kW, work 1.81 kW, COP 3.97."""
    low, high = (refrigerant.saturation_temperature_c("R134a", kpa) for kpa in (140.0, 800.0))
    found = cycle.ideal("R134a", low, high)
    assert found["effect_kj_kg"] * 0.05 == pytest.approx(7.18, rel=0.012)
    assert found["work_kj_kg"] * 0.05 == pytest.approx(1.81, rel=0.012)
    assert found["cop"] == pytest.approx(3.97, rel=0.012)


def test_r1234yf_ends_inside_the_dome_and_is_valid():
    """Isentropic compression from saturated vapour ends wet: less enthalpy than saturated vapour at that pressure."""
    from CoolProp import CoolProp

    found = cycle.ideal("R1234yf", 0.0, 50.0)
    end = found["points"][1]
    saturated = CoolProp.PropsSI("H", "P", end["kpa"] * 1000, "Q", 1, "R1234yf") / 1000
    assert end["kj_kg"] < saturated
    carnot = 273.15 / 50.0
    assert 0.5 * carnot < found["cop"] < carnot


def test_the_circuit_closes():
    """Throttling keeps enthalpy; heat out is heat in plus work (first law)."""
    points = cycle.ideal("R134a", 2.0, 48.0)["points"]
    assert points[2]["kj_kg"] == points[3]["kj_kg"]
    assert points[0]["kpa"] == points[3]["kpa"]
    assert points[1]["kpa"] == points[2]["kpa"]


def test_less_condensing_is_less_work_per_cooling(rulebook):
    """Ten kelvin less condensing: the relative change of work per cooling is that of the COPs, with an uncertainty."""

    def test_of(name, role, high):
        return {"id": name, "role": role, "at": "2026-06-12T09:00:00-07:00",
                "readings": {"low_kpa_g": 190.0, "high_kpa_g": high}, "conditions": {"ambient_c": 28.0}}  # fmt: skip

    visit = {"id": "v", "vehicle": {"refrigerant": "R134a"}, "place": {"altitude_m": 0.0}}
    visit["tests"] = [test_of("b", "before", 1500.0), test_of("a", "after", 1100.0)]
    result = diagnosis.diagnose(visit, rulebook, "test")
    change = result["cycle"]["work_change"]
    cops = [test["derived"]["ideal_cop"]["value"] for test in result["tests"]]
    assert change["value"] == pytest.approx(cops[0] / cops[1] - 1)
    assert -0.4 < change["value"] < -0.1
    assert 0 < change["u"] < 0.2


def test_the_dome_stands_on_published_values() -> None:
    """R-134a at 0 °C: 293.01 kPa and 198.60 kJ/kg between its ends (Çengel & Boles, table A-11, from memory)."""
    line = cycle.dome("R134a", 0.0)
    assert line[0]["kpa"] == pytest.approx(293.01, rel=0.0015)
    assert line[-1]["kpa"] == pytest.approx(293.01, rel=0.0015)
    assert line[-1]["kj_kg"] - line[0]["kj_kg"] == pytest.approx(198.60, rel=0.003)


def test_the_dome_closes_at_the_critical_point() -> None:
    """R-1234yf: 3382.2 kPa (Richter et al. 2011, from memory); liquid and vapour meet there and nowhere lower."""
    line = cycle.dome("R1234yf", -10.0, 20)
    top = max(line, key=lambda place: place["kpa"])
    assert top["kpa"] == pytest.approx(3382.2, rel=0.004)
    widths = [vapour["kj_kg"] - liquid["kj_kg"] for liquid, vapour in zip(line[:20], line[:19:-1], strict=True)]
    assert widths == sorted(widths, reverse=True)
    assert 0 < widths[-1] < 0.15 * widths[0]


def test_threads_reckon_each_for_itself():
    """Eight at once, each with its own cycle of one refrigerant, switching as often as Python lets them: every figure
    is the same as when it is calculated alone.
    """
    givens = [(float(low), float(low + 40)) for low in range(-10, 22, 2)]
    alone = [refrigerant.ideal_cycle("R1234yf", *given) for given in givens]
    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    try:
        with ThreadPoolExecutor(8) as threads:
            for _ in range(20):
                found = list(threads.map(lambda given: refrigerant.ideal_cycle("R1234yf", *given), givens))
                assert found == alone
    finally:
        sys.setswitchinterval(before)
