"""Units and rounding against NIST, and there and back."""

from __future__ import annotations

import pytest

from sync.errors import UnknownName
from sync.kernel import units

# NIST SP 811 (2008), appendix B; kgf/cm2 is 98.0665 kPa by definition of the standard gravity.
NIST = [
    ("pressure", "psi", 1.0, 6.894757293168), ("pressure", "inhg", 1.0, 3.386389), ("pressure", "bar", 1.0, 100.0),
    ("vacuum", "micron", 500.0, 66.661), ("mass", "oz", 1.0, 28.349523125), ("distance", "mi", 1.0, 1.609344),
    ("altitude", "ft", 1.0, 0.3048), ("pressure", "kgf_cm2", 1.0, 98.0665),
    ("temperature", "f", 32.0, 0.0), ("temperature", "f", 212.0, 100.0), ("temperature", "f", -40.0, -40.0),
    ("temperature_difference", "f", 9.0, 5.0),
]  # fmt: skip


@pytest.mark.parametrize(("quantity", "unit", "number", "canonical"), NIST)
def test_factors_are_those_of_nist(rulebook, quantity, unit, number, canonical):
    """NIST SP 811 (2008), appendix B."""
    assert units.to_canonical(quantity, unit, number, rulebook) == pytest.approx(canonical, rel=1e-9, abs=1e-9)


def test_pint_agrees_on_pressures(rulebook):
    """`pint` as a second opinion on every pressure unit."""
    import pint

    registry = pint.UnitRegistry()
    for ours, theirs in [("psi", "psi"), ("bar", "bar"), ("kgf_cm2", "kgf/cm**2"), ("kpa", "kPa")]:
        expected = registry.Quantity(37.5, theirs).to("kPa").magnitude
        assert units.to_canonical("pressure", ours, 37.5, rulebook) == pytest.approx(expected, rel=1e-9)


def test_every_unit_goes_there_and_back(rulebook):
    """Canonical → unit → canonical, for every unit there is."""
    for quantity, book in rulebook["units"].items():
        if quantity == "about":
            continue
        for unit in book["units"]:
            for value in (-40.0, 0.0, 0.1, 21.7, 1234.5):
                shown = units.from_canonical(quantity, unit, value, rulebook)
                assert units.to_canonical(quantity, unit, shown, rulebook) == pytest.approx(value, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    ("number", "decimals", "rounded"),
    [(2.5, 0, 3.0), (-2.5, 0, -3.0), (0.5, 0, 1.0), (-0.4, 0, 0.0), (1.25, 1, 1.3), (-1.25, 1, -1.3), (7.0, 2, 7.0)],
)
def test_halves_round_away_from_zero(number, decimals, rounded):
    """ISO 80000-1:2009, annex B, rule B, from memory; and there is no negative zero."""
    result = units.round_half_away(number, decimals)
    assert result == rounded
    assert str(result) == str(rounded)


@pytest.mark.parametrize(("quantity", "unit"), [("pressure", "f"), ("colour", "psi"), ("about", "psi")])
def test_an_unknown_unit_is_named(rulebook, quantity, unit):
    """The error says which unit."""
    with pytest.raises(UnknownName) as caught:
        units.to_canonical(quantity, unit, 1.0, rulebook)
    assert unit in caught.value.values["name"]
