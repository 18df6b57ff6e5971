"""Derived quantities and their uncertainties against published values and a general-purpose propagation library."""

from __future__ import annotations

import copy
from math import sqrt

import pytest

from sync.kernel import assessment, inputs

INSTRUMENTS = {
    "low_gauge": {"span_kpa": 1100.0, "class_pct": 1.6},
    "high_gauge": {"span_kpa": 3500.0, "class_pct": 1.6},
    "thermometer_c": 2.5,
}


def visit_of(readings, conditions=None, **parts):
    """A visit with one test at sea level, R-134a unless said otherwise."""
    test = {"id": "t", "role": "single", "at": "2026-06-12T09:30:00-07:00"}
    test.update(readings=readings, conditions=conditions or {})
    return {"id": "v", "place": {"altitude_m": 0.0}, "vehicle": {"refrigerant": "R134a"}, "tests": [test], **parts}


def judged(visit, rulebook):
    """The judgement of the visit's only test."""
    return assessment.assess(visit, rulebook)["tests"][0]


def without_ports(rulebook):
    """The rulebook without port drops and without doubt about the place, as in the published figures."""
    changed = copy.deepcopy(rulebook)
    changed["instruments"]["ports"].update(suction_kpa=0.0, high={"discharge": 0.0, "liquid": 0.0, "unknown": 0.0})
    changed["instruments"]["station"] = {"measured_u_kpa": 0.0, "altitude_u_kpa": 0.0}
    return changed


def test_uncertainties_are_those_computed_by_hand(rulebook):
    """Class 1.6, spans 11 and 35 bar, 2.5 K: the figures of the design, calculated without port terms.

    u(pressure) 0.1016 and 0.3233 bar; u(saturation) 0.958 K at 0 °C, 1.074 K at 45 °C; u(superheat) 1.732 K;
    u(condenser split) 1.799 K. Saturation pressures: Moran & Shapiro, table A-10, from memory (0 °C), CoolProp (45 °C).
    """
    readings = {"low_kpa_g": 292.82 - 101.325, "high_kpa_g": 1160.2 - 101.325, "suction_line_c": 6.0}
    visit = visit_of(readings, {"ambient_c": 30.0}, instruments=INSTRUMENTS)
    exact = without_ports(rulebook)
    test = visit["tests"][0]
    u = inputs.inputs_of(visit, test, exact).u
    assert u["low_kpa_g"] / 100 == pytest.approx(0.1016, abs=0.0001)
    assert u["high_kpa_g"] / 100 == pytest.approx(0.3233, abs=0.0001)
    derived = judged(visit, exact)["derived"]
    assert derived["low_saturation_c"]["u"] == pytest.approx(0.958, abs=0.005)
    assert derived["high_saturation_c"]["u"] == pytest.approx(1.074, abs=0.005)
    assert derived["superheat_k"]["u"] == pytest.approx(1.732, abs=0.005)
    assert derived["condenser_split_k"]["u"] == pytest.approx(1.799, abs=0.005)


def test_port_drops_widen_and_do_not_move(rulebook):
    """The value stays at the gauge's pressure; the drop to the coil is in the uncertainty (common practice)."""
    visit = visit_of({"low_kpa_g": 200.0, "high_kpa_g": 1100.0}, {"ambient_c": 30.0}, instruments=INSTRUMENTS)
    with_drop, without = judged(visit, rulebook)["derived"], judged(visit, without_ports(rulebook))["derived"]
    for name in ("low_saturation_c", "high_saturation_c", "condenser_split_k"):
        assert with_drop[name]["value"] == without[name]["value"]
        assert with_drop[name]["u"] > without[name]["u"]


def test_linear_propagation_agrees_with_an_independent_library(rulebook):
    """`uncertainties` on the arithmetic quantities: pressure ratio and the differences of two temperatures."""
    from uncertainties import ufloat

    readings = {"low_kpa_g": 180.0, "high_kpa_g": 1200.0, "liquid_line_c": 41.0, "vent_c": 6.0}
    visit = visit_of(readings, {"ambient_c": 30.0, "air": "outside"}, instruments=INSTRUMENTS)
    exact = without_ports(rulebook)
    derived = judged(visit, exact)["derived"]
    low, high = ufloat(180.0 + 101.325, 17.6 / sqrt(3)), ufloat(1200.0 + 101.325, 56.0 / sqrt(3))
    liquid, vent, ambient = (ufloat(value, 2.5 / sqrt(3)) for value in (41.0, 6.0, 30.0))
    for name, expected in (
        ("pressure_ratio", high / low),
        ("liquid_over_ambient_k", liquid - ambient),
        ("vent_drop_k", ambient - vent),
    ):
        assert derived[name]["value"] == pytest.approx(expected.nominal_value, rel=1e-9)
        assert derived[name]["u"] == pytest.approx(expected.std_dev, rel=0.01)


def test_gum_example_of_calibration_mass_is_reproduced():
    """CITAC/Eurachem guide, example A1: 1002.7 mg/L, u 0.835 mg/L, through the same central-difference rule."""
    from sync.kernel.quantities import parts_of

    measured = inputs.Inputs({"quantities": {"needs": {}}})
    for name, number, spread in (("mass", 100.28, 0.05), ("purity", 0.9999, 0.000058), ("volume", 100.0, 0.066)):
        measured.take(name, number, spread)

    def concentration(x, _):
        return 1000 * x["mass"] * x["purity"] / x["volume"]

    value = concentration(measured.values, None)
    u = inputs.root_sum(list(parts_of(concentration, ["mass", "purity", "volume"], measured, None).values()))
    assert value == pytest.approx(1002.7, abs=0.05)
    assert u == pytest.approx(0.835, abs=0.005)


def test_gum_example_of_the_end_gauge_is_reproduced():
    """JCGM 100:2008, H.1: first order u = 31.7 nm (32 nm with the higher-order term the guide adds)."""
    from sync.kernel.quantities import parts_of

    measured = inputs.Inputs({"quantities": {"needs": {}}})
    for name, number, spread in (
        ("standard_nm", 50_000_623.0, 25.0),
        ("difference_nm", 215.0, 9.7),
        ("expansion_difference", 0.0, 0.58e-6),
        ("deviation_k", -0.1, 0.41),
        ("expansion", 11.5e-6, 1.2e-6),
        ("temperature_difference_k", 0.0, 0.029),
    ):
        measured.take(name, number, spread)

    def length(x, _):
        thermal = x["expansion_difference"] * x["deviation_k"] + x["expansion"] * x["temperature_difference_k"]
        return x["standard_nm"] + x["difference_nm"] - x["standard_nm"] * thermal

    value = length(measured.values, None)
    u = inputs.root_sum(list(parts_of(length, list(measured.values), measured, None).values()))
    assert value == pytest.approx(50_000_838.0)
    assert u == pytest.approx(31.7, abs=0.1)


def test_the_pair_at_cut_out_belongs_together(rulebook):
    """When it cycles, the lowest low side goes with the highest high side (common practice, no source)."""
    readings = {"low_kpa_g": 140.0, "low_max_kpa_g": 300.0, "high_kpa_g": 900.0, "high_max_kpa_g": 1200.0}
    cycling = judged(visit_of({**readings, "running": "cycling"}), rulebook)["derived"]["pressure_ratio"]["value"]
    assert cycling == pytest.approx((1200 + 101.325) / (140 + 101.325))
    steady = judged(visit_of({**readings, "running": "steady"}), rulebook)["derived"]["pressure_ratio"]["value"]
    assert steady == pytest.approx((900 + 101.325) / (140 + 101.325))


def test_a_gauge_is_corrected_for_what_it_reads_open_to_the_air(rulebook):
    """`zero_kpa` is subtracted first."""
    off = {"low_gauge": {"span_kpa": 1100.0, "class_pct": 1.6, "zero_kpa": 12.0}}
    a = judged(visit_of({"low_kpa_g": 212.0}, instruments=off), rulebook)["derived"]["low_saturation_c"]
    b = judged(visit_of({"low_kpa_g": 200.0}), rulebook)["derived"]["low_saturation_c"]
    assert a["value"] == b["value"]


def test_the_same_gauge_reads_another_temperature_in_the_mountains(rulebook):
    """180 kPa gauge at 2,000 m is 259.5 kPa absolute: Mechanical Engineers' Handbook, vol. 4, table 14 interpolates."""
    visit = visit_of({"low_kpa_g": 180.0})
    visit["place"] = {"altitude_m": 2000.0}
    value = judged(visit, rulebook)["derived"]["low_saturation_c"]["value"]
    between = -4.38 + (259.495 - 250.0) / 150.0 * (8.86 + 4.38)
    assert value == pytest.approx(between, abs=0.6)  # the handbook's step from 2.5 to 4 bar is wide
    visit["place"] = {"altitude_m": 2000.0, "station_pressure_kpa": 101.325}
    assert judged(visit, rulebook)["derived"]["station_kpa"]["value"] == 101.325


@pytest.mark.parametrize(
    "missing", ["low_kpa_g", "high_kpa_g", "vent_c", "suction_line_c", "liquid_line_c", "return_air_c"]
)
def test_each_missing_reading_leaves_named_unknowns_and_all_else(rulebook, missing):
    """What needs the reading is unknown and says so; everything else is unchanged."""
    readings = {"low_kpa_g": 190.0, "high_kpa_g": 1100.0, "vent_c": 6.0, "suction_line_c": 5.0, "liquid_line_c": 38.0}
    readings.update(return_air_c=24.0, return_air_humidity_pct=45.0, discharge_line_c=70.0, command_pct=60.0)
    conditions = {"ambient_c": 30.0, "humidity_pct": 40.0, "air": "recirculated"}
    whole = judged(visit_of(readings, conditions), rulebook)
    assert whole["unknown"] == []
    part = judged(visit_of({k: v for k, v in readings.items() if k != missing}, conditions), rulebook)
    named = {row["what"]: row for row in part["unknown"]}
    assert named
    for row in named.values():
        assert row["code"] == "not_taken"
        assert row["needs"] == [f"readings.{missing}"]
    for name, value in whole["derived"].items():
        assert (name in named) != (part["derived"].get(name) == value)


@pytest.mark.parametrize(
    ("refrigerant", "code"),
    [("other", "refrigerant_unknown"), ("unknown", "refrigerant_unknown"), (None, "refrigerant_unknown")],
)
def test_an_unknown_refrigerant_ends_in_named_unknowns(rulebook, refrigerant, code):
    """Saturation is unknown; the ratio of pressures is not."""
    visit = visit_of({"low_kpa_g": 190.0, "high_kpa_g": 1100.0}, {"ambient_c": 30.0})
    visit["vehicle"] = {"refrigerant": refrigerant} if refrigerant else {}
    result = judged(visit, rulebook)
    assert {row["what"]: row["code"] for row in result["unknown"]}["low_saturation_c"] == code
    assert result["derived"]["pressure_ratio"]["value"] == pytest.approx(1201.325 / 291.325)


def test_carbon_dioxide_above_its_critical_point_has_no_condensing_temperature(rulebook):
    """R-744 above 7,377 kPa (CoolProp; Span & Wagner 1996) is reported as above critical; its low side is known."""
    visit = visit_of({"low_kpa_g": 3400.0, "high_kpa_g": 9500.0}, {"ambient_c": 35.0})
    visit["vehicle"] = {"refrigerant": "R744"}
    result = judged(visit, rulebook)
    unknown = {row["what"]: row["code"] for row in result["unknown"]}
    assert unknown["high_saturation_c"] == unknown["condenser_split_k"] == "above_critical"
    assert result["derived"]["low_saturation_c"]["value"] == pytest.approx(
        0.2, abs=1.0
    )  # 34.85 bar at 0 °C, from memory
    assert result["faults"] == []


def test_without_a_place_nothing_is_made_up(rulebook):
    """No altitude and no pressure: absolute pressures are unknown, and the altitude is requested."""
    visit = visit_of({"low_kpa_g": 190.0})
    del visit["place"]
    unknown = {row["what"]: row for row in judged(visit, rulebook)["unknown"]}
    assert unknown["low_saturation_c"]["needs"] == ["place.altitude_m"]


@pytest.mark.parametrize("low", [-101.325, -250.0, -90.0, 5000.0, 1e12])
@pytest.mark.parametrize("altitude", [-400.0, 0.0, 5000.0])
@pytest.mark.parametrize("humidity", [0.0, 55.0, 100.0])
def test_bad_readings_end_in_unknowns_never_in_an_error(rulebook, low, altitude, humidity):
    """Zero and negative absolute pressures, pressures beyond the table, dry and saturated air, low and high places."""
    visit = visit_of({"low_kpa_g": low, "high_kpa_g": 1100.0}, {"ambient_c": 30.0, "humidity_pct": humidity})
    visit["place"] = {"altitude_m": altitude}
    result = judged(visit, rulebook)
    unknown = {row["what"]: row["code"] for row in result["unknown"]}
    assert unknown["low_saturation_c"] == ("above_critical" if low > 4000 else "out_of_table")
    assert ("dew_point_c" in unknown) == (humidity == 0.0)
    assert {"humidity_ratio", "wet_bulb_c", "high_saturation_c"} <= set(result["derived"])
    assert all(row["value"] == row["value"] and row["u"] >= 0 for row in result["derived"].values())


@pytest.mark.parametrize(
    ("readings", "conditions", "code"),
    [
        ({"vent_c": 400.0}, {}, "implausible"),
        ({"low_kpa_g": 1100.0, "high_kpa_g": 200.0}, {}, "sides_swapped"),
        ({}, {"ambient_c": 84.0}, "unit_slip"),
        ({"high_kpa_g": 25.0}, {}, "unit_slip"),
        ({"low_kpa_g": -120.0}, {}, "under_vacuum"),
        ({"liquid_line_c": 22.0}, {"ambient_c": 33.0}, "liquid_under_ambient"),
        ({"liquid_line_c": 22.0, "high_kpa_g": 900.0}, {"ambient_c": 33.0}, "subcooling_above_split"),
        ({"high_kpa_g": 300.0}, {"ambient_c": 33.0}, "condensing_under_ambient"),
        ({"low_kpa_g": 250.0, "vent_c": -8.0}, {}, "vent_under_evaporating"),
        ({"low_kpa_g": 250.0, "suction_line_c": -10.0}, {}, "suction_under_evaporating"),
        ({"high_kpa_g": 1400.0, "discharge_line_c": 30.0}, {}, "discharge_under_condensing"),
        ({"high_kpa_g": 900.0, "liquid_line_c": 60.0}, {}, "liquid_over_condensing"),
    ],
)
def test_readings_that_cannot_be_right_are_named(rulebook, readings, conditions, code):
    """Each is kept, judged as far as possible, and named with its fields (common practice, no source)."""
    result = judged(visit_of(readings, conditions), rulebook)
    found = {fault["code"]: fault for fault in result["faults"]}
    assert code in found
    sections = {"readings": readings, "conditions": conditions}
    for field in found[code]["fields"]:
        section, name = field.split(".")
        assert name in sections[section]


def test_sound_readings_have_no_faults(rulebook):
    """A healthy car in ordinary weather raises no question."""
    readings = {"low_kpa_g": 190.0, "high_kpa_g": 1150.0, "vent_c": 6.0, "suction_line_c": 6.0, "liquid_line_c": 40.0}
    assert judged(visit_of(readings, {"ambient_c": 30.0, "humidity_pct": 50.0}), rulebook)["faults"] == []
