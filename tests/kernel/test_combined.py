"""Joined quantities against a general-purpose propagation library, and where they are not to be had."""

from __future__ import annotations

import pytest
from uncertainties import ufloat

from sync.kernel import assessment
from sync.kernel.combined import combined_of
from sync.kernel.inputs import inputs_of
from tests.support.random_visits import visit as random_visit


def readings_of(rulebook, seeds):
    """Inputs and derived quantities of the tests of random visits."""
    for seed in seeds:
        visit = random_visit(seed)
        result = assessment.assess(visit, rulebook)
        for test, judged in zip(visit["tests"], result["tests"], strict=True):
            yield inputs_of(visit, test, rulebook), judged["derived"]


def by_library(inputs, derived):
    """The same quantities by linear propagation (JCGM 100), every reading an independent one."""
    x = {name: ufloat(row["value"], row["u"]) for name, row in derived.items()}
    air = {name: ufloat(inputs.values[name], inputs.u[name]) for name in inputs.values}
    wanted = {
        "air_effectiveness": lambda: (air["entering_c"] - air["vent_c"]) / (air["entering_c"] - x["low_saturation_c"]),
        "split_over_drop": lambda: x["condenser_split_k"] / x["vent_drop_k"],
        "share_over_drop": lambda: x["on_share"] / (x["vent_drop_k"] / 10.0),
        "subcooling_over_split": lambda: x["subcooling_k"] / x["condenser_split_k"],
        "discharge_over_superheat_k": lambda: x["discharge_over_condensing_k"] - x["superheat_k"],
    }
    found = {}
    for name, made in wanted.items():
        try:
            found[name] = made()
        except (KeyError, ZeroDivisionError):
            continue  # a reading that the visit lacks, or a divisor of nothing
    return found


def test_values_and_uncertainties_are_those_of_the_library(rulebook):
    """Every joined quantity of many random tests."""
    seen = {}
    for inputs, derived in readings_of(rulebook, range(200)):
        expected = by_library(inputs, derived)
        for name, row in combined_of(inputs, derived, rulebook["causes"]["least"]).items():
            seen[name] = seen.get(name, 0) + 1
            assert row["value"] == pytest.approx(expected[name].nominal_value, rel=1e-9, abs=1e-9), name
            assert row["u"] == pytest.approx(expected[name].std_dev, rel=1e-9), name
    assert len(seen) == 5
    assert min(seen.values()) > 20


def test_a_divisor_that_tells_nothing_gives_no_quantity(rulebook):
    """Just above the least divisor there is a ratio, just below there is none."""
    least = rulebook["causes"]["least"]
    ratios = {
        "vent_drop_k": ("split_over_drop", "share_over_drop"),
        "condenser_split_k": ("subcooling_over_split",),
        "most_drop_k": ("air_effectiveness",),
    }
    inputs, derived = next(
        (inputs, derived)
        for inputs, derived in readings_of(rulebook, range(200))
        if len(combined_of(inputs, derived, least)) == 5
    )
    most = inputs.values["entering_c"] - derived["low_saturation_c"]["value"]
    for divisor, names in ratios.items():
        size = most if divisor == "most_drop_k" else derived[divisor]["value"]
        above = combined_of(inputs, derived, {**least, divisor: size * 0.999})
        below = combined_of(inputs, derived, {**least, divisor: size * 1.001})
        assert all(name in above and name not in below for name in names)


def test_nothing_is_joined_without_readings(rulebook):
    """No derived quantity, nothing joined."""
    inputs, _ = next(readings_of(rulebook, [1]))
    assert combined_of(inputs, {}, rulebook["causes"]["least"]) == {}
