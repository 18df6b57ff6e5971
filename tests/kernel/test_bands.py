"""Bands of a healthy car, and the vehicle's own history before them; both are common practice, no source."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from sync.kernel import assessment
from sync.kernel.history import day_number


def expected(rulebook, conditions=None, readings=None, **vehicle):
    """What a healthy car would show for one test."""
    settings = {"ambient_c": 28.0, "blower": "low", "air": "recirculated", **(conditions or {})}
    taken = {"return_air_c": 22.0, "return_air_humidity_pct": 40.0, **(readings or {})}
    test = {"id": "t", "role": "single", "at": "2026-07-14T09:00:00+02:00", "conditions": settings, "readings": taken}
    visit = {"id": "v", "place": {"altitude_m": 100.0}, "tests": [test]}
    visit["vehicle"] = {"refrigerant": "R134a", **vehicle}
    return assessment.assess(visit, rulebook)["tests"][0]["expected"]


@pytest.mark.parametrize(
    ("conditions", "readings", "band"),
    [
        ({}, {}, (5.0, 16.0)),  # class A: 22 °C and 40 % carry some 39 kJ/kg
        ({"blower": "medium"}, {}, (10.0, 25.0)),
        ({"blower": "high"}, {}, (18.0, 36.0)),
        ({"air": "outside"}, {}, (18.0, 36.0)),
        ({}, {"return_air_c": 30.0, "return_air_humidity_pct": 60.0}, (18.0, 36.0)),  # some 72 kJ/kg
        ({"rpm": 800.0}, {}, (8.0, 22.0)),  # idle: 3 to 6 K more
    ],
)
def test_the_class_follows_blower_air_and_load(rulebook, conditions, readings, band):
    """Condenser split by class."""
    found = expected(rulebook, conditions, readings)["condenser_split_k"]
    assert (found["low"], found["high"]) == pytest.approx(band)
    assert found["by"] == "band"


def test_an_uncertain_class_widens_the_band_by_a_fifth(rulebook):
    """Without the load the class is not certain."""
    found = expected(rulebook, {}, {"return_air_c": None})["condenser_split_k"]
    assert found["high"] - found["low"] == pytest.approx(1.2 * 11.0)


@pytest.mark.parametrize(
    ("place", "vehicle", "band"),
    [
        ("evaporator", {}, (3.0, 12.0)),
        ("compressor", {}, (5.0, 20.0)),
        ("compressor", {"internal_exchanger": True}, (10.0, 30.0)),
        ("compressor", {"metering": "orifice_tube"}, (0.0, 5.0)),
    ],
)
def test_where_the_clamp_sat_decides_which_superheat_is_normal(rulebook, place, vehicle, band):
    """At the evaporator, at the compressor, behind an internal exchanger, after an accumulator."""
    found = expected(rulebook, {}, {"suction_at": place}, **vehicle)["superheat_k"]
    assert (found["low"], found["high"]) == pytest.approx(band)
    unknown = expected(rulebook)["superheat_k"]
    assert unknown["high"] - unknown["low"] == pytest.approx(1.2 * 17.0)


@pytest.mark.parametrize("conditions", [{"ambient_c": 12.0}, {"ambient_c": 45.0}, {"mode": "heating"}])
def test_outside_their_validity_there_are_no_bands(rulebook, conditions):
    """20 to 40 °C, cooling."""
    assert expected(rulebook, conditions) == {}


@pytest.mark.parametrize(
    ("refrigerant", "there"), [("R1234yf", True), ("R12", True), ("R152a", False), ("R744", False)]
)
def test_bands_by_refrigerant(rulebook, refrigerant, there):
    """The same for R-1234yf, wider for R-12, none for R-152a and R-744."""
    found = expected(rulebook, refrigerant=refrigerant)
    assert ("condenser_split_k" in found) == there


def healthy(at="2025-08-01T10:00:00+02:00", **more):
    """One earlier test marked healthy."""
    values = {"condenser_split_k": {"value": 9.0, "u": 1.5}}
    return {"at": at, "refrigerant": "R134a", "blower": "low", "air": "recirculated", "values": values, **more}


def test_the_vehicles_own_history_goes_before_the_bands(rulebook):
    """Twice the root of its own uncertainty and the spread of the rulebook (2.5 K)."""
    found = expected(rulebook, baseline={"entries": [healthy()]})["condenser_split_k"]
    reach = 2 * (1.5**2 + 2.5**2) ** 0.5
    assert found == {"low": pytest.approx(9 - reach), "high": pytest.approx(9 + reach), "by": "history"}


@pytest.mark.parametrize(
    "baseline",
    [
        {"entries": [healthy("2024-07-01T10:00:00+02:00")]},
        {"entries": [healthy("2026-08-01T10:00:00+02:00")]},
        {"entries": [healthy(blower="high")]},
        {"entries": [healthy(air="outside")]},
        {"entries": [healthy(refrigerant="R12")]},
        {"entries": [healthy()], "refrigerant_work_at": "2025-09-01T10:00:00+02:00"},
        {"entries": []},
    ],
)
def test_history_is_not_used_where_the_rules_forbid(rulebook, baseline):
    """Too old, not yet, other settings, other refrigerant, refrigerant work since."""
    assert expected(rulebook, baseline=baseline)["condenser_split_k"]["by"] == "band"


@pytest.mark.parametrize(
    "worked",
    [
        {"work": [{"id": "w", "code": "recharged"}]},
        {"refrigerant_moves": [{"id": "m", "kind": "charged", "grams": 200.0}]},
    ],
)
def test_history_is_not_used_after_work_on_the_refrigerant_in_the_same_visit(rulebook, worked):
    """The test before the work is still held against it; common practice, no source."""
    bands = {}
    for role in ("before", "after"):
        conditions = {"ambient_c": 28.0, "blower": "low", "air": "recirculated"}
        readings = {"return_air_c": 22.0, "return_air_humidity_pct": 40.0}
        test = {"id": "t", "role": role, "at": "2026-07-14T09:00:00+02:00"}
        test |= {"conditions": conditions, "readings": readings}
        visit = {"id": "v", "place": {"altitude_m": 100.0}, "tests": [test]}
        visit["vehicle"] = {"refrigerant": "R134a", "baseline": {"entries": [healthy()]}}
        expected_there = assessment.assess(visit | worked, rulebook)["tests"][0]["expected"]
        bands[role] = expected_there["condenser_split_k"]["by"]
    assert bands == {"before": "history", "after": "band"}


def test_days_are_those_of_the_calendar():
    """Against Python's own calendar over 200 years."""
    day = date(1900, 1, 1)
    while day.year < 2100:
        assert day_number(day.isoformat() + "T23:59:59+14:00") == (day - date(1970, 1, 1)).days
        day += timedelta(days=17)
