"""Units against `pint`, and there and back; NIST and the rounding stand in tests/vectors/calls/units.json."""

from __future__ import annotations

import pytest

from sync.errors import UnknownName
from sync.kernel import units


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


@pytest.mark.parametrize(("quantity", "unit"), [("pressure", "f"), ("colour", "psi"), ("about", "psi")])
def test_an_unknown_unit_is_named(rulebook, quantity, unit):
    """The error says which unit."""
    with pytest.raises(UnknownName) as caught:
        units.to_canonical(quantity, unit, 1.0, rulebook)
    assert unit in caught.value.values["name"]
