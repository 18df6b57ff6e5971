"""The honest before/after: the example of common practice, reasons against comparing, and what must never happen."""

from __future__ import annotations

import copy
from itertools import pairwise

import pytest

from sync.kernel import assessment
from sync.kernel.same_day import load_factor

PSI = 6.894757293168  # NIST SP 811


def celsius(fahrenheit):
    """°F to °C."""
    return (fahrenheit - 32) / 1.8


def test_of(role, readings, **conditions):
    """One test with the example's settings."""
    settings = {"rpm": 2500.0, "blower": "low", "air": "recirculated", **conditions}
    return {"id": role, "role": role, "at": "2026-06-12T09:30:00-07:00", "conditions": settings, "readings": readings}


test_of.__test__ = False


def example():
    """R-134a, 2,500 rev/min, blower low, recirculated, dry day, cleaned. Common practice, no source."""
    before = {"high_kpa_g": 180 * PSI, "low_kpa_g": 18 * PSI, "vent_c": celsius(38.5)}
    after = {"high_kpa_g": 120 * PSI, "vent_c": celsius(38.5)}
    tests = [test_of("before", before, ambient_c=celsius(80)), test_of("after", after, ambient_c=celsius(84))]
    work = [{"id": "w", "code": "condenser_cleaned", "at": "2026-06-12T10:00:00-07:00"}]
    return {"id": "v", "vehicle": {"refrigerant": "R134a"}, "place": {"altitude_m": 0.0}, "tests": tests, "work": work}


def compared(visit, rulebook):
    """The comparison of a visit."""
    return assessment.assess(visit, rulebook)["comparison"]


def test_the_example_of_common_practice(rulebook):
    """High side better, the work about −68 to −71 psi; the vent at its floor shows nothing."""
    found = compared(example(), rulebook)
    high = found["high_side"]
    assert high["raw_change_kpa"] / PSI == pytest.approx(-60)
    assert -71 <= high["work_share_kpa"] / PSI <= -68
    assert high["interval_kpa"][1] < 0
    assert high["verdict"] == found["verdict"] == "better"
    assert found["vent"]["verdict"] == "not_shown"
    assert "vent_at_floor" in found["notes"]
    assert not {"vent_warmer", "superheat_up", "subcooling_gone", "low_side_down"} & set(found["notes"])


def test_the_shares_add_up(rulebook):
    """The raw change is the weather's share plus the work's share."""
    high = compared(example(), rulebook)["high_side"]
    assert high["conditions_share_kpa"] + high["work_share_kpa"] == pytest.approx(high["raw_change_kpa"])
    assert high["conditions_share_kpa"] > 0  # it was warmer afterwards


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"face_wet": True}, "face_wet"),
        ({"rinsed_min_ago": 5.0}, "rinsed_recently"),
        ({"blower": "high"}, "blower_differs"),
        ({"air": "outside"}, "air_differs"),
        ({"rear": "on"}, "rear_differs"),
        ({"fan": "low"}, "fan_differs"),
        ({"running_min": 20.0}, "minutes_differ"),
        ({"rpm": 900.0}, "speed_differs"),
        ({"ambient_c": 38.0}, "ambient_differs"),
        ({"mode": "heating"}, "not_cooling"),
    ],
)
def test_a_recorded_difference_makes_the_pair_not_comparable(rulebook, change, reason):
    """Each with its reason and without a figure (common practice, no source)."""
    visit = example()
    visit["tests"][0]["conditions"].update(fan="high", running_min=10.0, rear="off")
    visit["tests"][1]["conditions"].update({"fan": "high", "running_min": 10.0, "rear": "off", **change})
    found = compared(visit, rulebook)
    assert found["verdict"] == found["high_side"]["verdict"] == "not_comparable"
    assert reason in found["reasons"]
    assert found["high_side"]["interval_kpa"] is None


def test_a_repaired_fan_may_change_its_stage(rulebook):
    """If the fan was the work, a fan that now runs is no reason against comparing."""
    visit = example()
    visit["work"][0]["code"] = "fan_repaired"
    for test, stage in zip(visit["tests"], ("off", "high"), strict=True):
        test["conditions"]["fan"] = stage
    assert compared(visit, rulebook)["verdict"] == "better"


def test_what_was_not_recorded_widens_and_is_noted(rulebook):
    """Unrecorded settings never make a pair incomparable; they make the interval wider."""
    bare, full = example(), example()
    for test in full["tests"]:
        test["conditions"].update(hood_open=True, in_sun=False, fan="high", running_min=15.0, face_wet=False)
    widths = []
    for visit in (bare, full):
        low, high = compared(visit, rulebook)["high_side"]["interval_kpa"]
        widths.append(high - low)
    assert widths[0] > widths[1]
    assert "fan_not_recorded" in compared(bare, rulebook)["notes"]
    assert "fan_not_recorded" not in compared(full, rulebook)["notes"]
    lost = example()
    del lost["place"]
    assert compared(lost, rulebook)["verdict"] == "better"
    assert "place_not_recorded" in compared(lost, rulebook)["notes"]


def test_warmer_weather_alone_is_never_better(rulebook):
    """Nothing done, ambient changes by up to 5 K, the high side by 25-40 kPa per kelvin (common practice)."""
    for warmer in (-5.0, -3.0, 3.0, 5.0):
        for slope in (25.0, 32.0, 40.0):
            visit = example()
            visit["tests"][1]["conditions"]["ambient_c"] = celsius(80) + warmer
            visit["tests"][1]["readings"]["high_kpa_g"] = 180 * PSI + slope * warmer
            assert compared(visit, rulebook)["verdict"] == "not_shown"


def test_more_uncertainty_never_turns_not_shown_into_better(rulebook):
    """Raising every instrument's limit only loses verdicts."""
    for high in range(100, 190, 6):
        words = []
        for scale in (0.5, 1.0, 2.0, 4.0):
            visit = example()
            visit["tests"][1]["readings"]["high_kpa_g"] = high * PSI
            gauge = {"span_kpa": 3500.0, "class_pct": 1.6 * scale}
            visit["instruments"] = {"high_gauge": gauge, "thermometer_c": 1.5 * scale}
            words.append(compared(visit, rulebook)["high_side"]["verdict"])
        for narrow, wide in pairwise(words):
            assert not (narrow == "not_shown" and wide == "better")


def test_a_fall_with_signs_of_starvation_is_not_better(rulebook):
    """High side down, vent warmer, subcooling gone: refrigerant was lost (common practice, no source)."""
    visit = example()
    before, after = (test["readings"] for test in visit["tests"])
    before["liquid_line_c"] = 44.0
    after.update(vent_c=14.0, liquid_line_c=36.5)
    found = compared(visit, rulebook)
    assert found["verdict"] == "worse"
    assert {"vent_warmer", "subcooling_gone"} <= set(found["notes"])


def test_a_recharge_that_raises_the_high_side_is_not_worse(rulebook):
    """From a starved split to a healthy one; the refrigerant is named and isn't credited to cleaning."""
    visit = example()
    before, after = (test["readings"] for test in visit["tests"])
    before.update(high_kpa_g=560.0, vent_c=15.0)
    after.update(high_kpa_g=900.0, vent_c=6.0)
    for test in visit["tests"]:
        test["conditions"]["ambient_c"] = 26.0
    visit["work"][0]["code"] = "recharged"
    at = "2026-06-12T10:00:00-07:00"
    visit["refrigerant_moves"] = [{"id": "m", "kind": "charged", "at": at, "refrigerant": "R134a", "grams": 300.0}]
    found = compared(visit, rulebook)
    assert found["verdict"] == "better"
    assert found["credits"] == ["refrigerant_moved", "refrigerant_work"]


def test_readings_that_cannot_be_right_are_not_compared(rulebook):
    """A fault in either test is a reason."""
    visit = example()
    visit["tests"][1]["readings"]["vent_c"] = 400.0
    found = compared(visit, rulebook)
    assert found["verdict"] == "not_comparable"
    assert "readings_impossible" in found["reasons"]


@pytest.mark.parametrize("refrigerant", ["other", "unknown", None])
def test_an_unknown_refrigerant_is_not_compared(rulebook, refrigerant):
    """Without a table there is no split."""
    visit = example()
    visit["vehicle"] = {"refrigerant": refrigerant} if refrigerant else {}
    assert compared(visit, rulebook)["reasons"] == ["refrigerant_unknown"]


def test_the_pair_is_the_last_before_and_the_last_after(rulebook):
    """Earlier tests of the same role don't count; one side alone isn't a pair."""
    visit = example()
    first = copy.deepcopy(visit["tests"][0])
    first["id"] = "earlier"
    visit["tests"].insert(0, first)
    assert compared(visit, rulebook)["pair"] == ["before", "after"]
    visit["tests"] = visit["tests"][:2]
    assert compared(visit, rulebook) is None


@pytest.mark.parametrize("power", [0.0, 0.3, 0.6, 1.0])
def test_the_load_factor_is_close_to_a_power(power):
    """Against the power function itself, within 1 % from 0.6 to 1.6."""
    for step in range(60, 161, 5):
        ratio = step / 100
        assert load_factor(ratio, power) == pytest.approx(ratio**power, rel=0.01)
