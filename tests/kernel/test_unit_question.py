"""Whether a reading was read in another unit: asked where it is odd as typed and usual otherwise, else never.

Common practice, no source: what gauges and thermometers of a running system mostly show.
"""

from __future__ import annotations

import pytest

from sync.errors import UnknownName
from sync.kernel.books import Rulebook
from sync.kernel.unit_question import unit_question

LOW, HIGH = "readings.low_kpa_g", "readings.high_kpa_g"
AMBIENT, VENT = "conditions.ambient_c", "readings.vent_c"
PSI = 6.894757293168  # kPa; NIST SP 811 (2008), appendix B.8


@pytest.mark.parametrize("case", [
    (LOW, 2.9, "psi", "bar", False),
    (LOW, 42.0, "kpa", "psi", False),
    (LOW, 42.0, "bar", "psi", True),
    (LOW, 290.0, "psi", "kpa", True),
    (LOW, 290.0, "bar", "kpa", True),
    (LOW, 2.9, "kpa", "bar", False),
    (HIGH, 15.0, "psi", "bar", False),
    (HIGH, 15.0, "kpa", "bar", True),
    (HIGH, 220.0, "kpa", "psi", False),
    (HIGH, 220.0, "bar", "psi", True),
    (HIGH, 1500.0, "psi", "kpa", True),
    (LOW, -35.0, "inhg", "kpa", True),
    (LOW, -20.0, "bar", "inhg", True),
    (AMBIENT, 28.0, "f", "c", False),
    (AMBIENT, 82.0, "c", "f", True),
    (VENT, 8.0, "f", "c", False),
    (VENT, 46.0, "c", "f", False),
])
def test_an_odd_reading_is_asked_for_the_unit_that_makes_it_usual(
    case: tuple[str, float, str, str, bool], rulebook: Rulebook
) -> None:
    """Kilopascals, bar, psi, inches of mercury, Celsius and Fahrenheit alike."""
    field, number, unit, other, impossible = case
    asked = unit_question(field, number, unit, "R134a", rulebook)
    assert asked is not None
    assert (asked["unit"], asked["impossible"]) == (other, impossible)


@pytest.mark.parametrize(("field", "number", "unit"), [
    (LOW, 42.0, "psi"), (LOW, 2.9, "bar"), (LOW, 290.0, "kpa"), (LOW, -12.0, "inhg"), (LOW, -30.0, "kpa"),
    (LOW, 0.0, "psi"), (HIGH, 290.0, "psi"), (HIGH, 20.0, "bar"), (HIGH, 1500.0, "kpa"),
    (AMBIENT, 92.0, "f"), (AMBIENT, 33.0, "c"), (VENT, 47.0, "f"), (VENT, 8.0, "c"), (VENT, -3.0, "c"),
])
def test_what_is_usual_or_a_vacuum_is_not_asked_about(
    field: str, number: float, unit: str, rulebook: Rulebook
) -> None:
    """Nor what no other unit would mend."""
    assert unit_question(field, number, unit, "R134a", rulebook) is None


def test_the_unit_in_use_is_never_the_answer(rulebook: Rulebook) -> None:
    """Whatever number stands in whatever field."""
    for field in rulebook["unit_question"]["usual"]:
        quantity = rulebook["fields"]["scopes"]["tests"][field]["quantity"]
        for unit in rulebook["units"][quantity]["units"]:
            for tenths in range(-1000, 6000, 7):
                asked = unit_question(field, tenths / 10.0, unit, "R134a", rulebook)
                assert asked is None or asked["unit"] != unit


def test_what_it_would_be_then_is_said_in_the_canonical_unit(rulebook: Rulebook) -> None:
    """42 psi are 289.58 kPa."""
    asked = unit_question(LOW, 42.0, "kpa", "R134a", rulebook)
    assert asked is not None
    assert asked["value"] == pytest.approx(42.0 * PSI, rel=1e-12)


def test_r744_has_pressures_of_its_own(rulebook: Rulebook) -> None:
    """35 bar on the low side is usual there, and 35 psi may have been bar."""
    assert unit_question(LOW, 35.0, "bar", "R744", rulebook) is None
    asked = unit_question(LOW, 35.0, "psi", "R744", rulebook)
    assert asked is not None
    assert asked["unit"] == "bar"


def test_a_field_that_the_book_does_not_name_is_not_asked_about(rulebook: Rulebook) -> None:
    """Humidity has one unit."""
    assert unit_question("conditions.humidity_pct", 900.0, "percent", "R134a", rulebook) is None


def test_a_unit_of_another_quantity_is_named(rulebook: Rulebook) -> None:
    """A slip of the code, not of a person."""
    with pytest.raises(UnknownName):
        unit_question(LOW, 42.0, "f", "R134a", rulebook)
