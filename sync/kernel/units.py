"""Units: from what a person typed to the canonical number and back, and the one rule of rounding.

Factors are rulebook data; no other module converts.
"""

from __future__ import annotations

from math import floor

from sync.errors import UnknownName
from sync.kernel.books import Rulebook, UnitRow


def _unit_row(quantity: str, unit: str, rulebook: Rulebook) -> UnitRow:
    units = rulebook["units"].get(quantity)
    if not isinstance(units, dict) or unit not in units["units"]:
        raise UnknownName(what="unit", name=f"{quantity} in {unit}")
    return units["units"][unit]


def to_canonical(quantity: str, unit: str, number: float, rulebook: Rulebook) -> float:
    """The canonical number for what was typed.

    Args:
        quantity: a quantity of the `units` book, such as "pressure" [code]
        unit: one of its units, such as "psi" [code]
        number: what was typed [unit]
        rulebook: the rulebook [books by name]

    Returns:
        the number in the quantity's canonical unit [kPa, °C, K, g, km, m or Pa]

    Valid for: any finite number.

    Raises:
        UnknownName: the quantity or the unit is not in the book.

    Source: NIST SP 811 (2008), appendix B, for the factors.
    """
    row = _unit_row(quantity, unit, rulebook)
    return number * float(row["scale"]) + float(row["offset"])


def from_canonical(quantity: str, unit: str, value: float, rulebook: Rulebook) -> float:
    """A canonical number in a person's unit.

    Args:
        quantity: a quantity of the `units` book [code]
        unit: one of its units [code]
        value: the canonical number [kPa, °C, K, g, km, m or Pa]
        rulebook: the rulebook [books by name]

    Returns:
        the number in that unit, unrounded [unit]

    Valid for: any finite number.

    Raises:
        UnknownName: the quantity or the unit is not in the book.

    Source: NIST SP 811 (2008), appendix B, for the factors.
    """
    row = _unit_row(quantity, unit, rulebook)
    return (value - float(row["offset"])) / float(row["scale"])


def round_half_away(number: float, decimals: int) -> float:
    """Rounded half away from zero, never to a negative zero.

    The rounding people do by hand; the languages' own rounding differs from it and from each other.

    Args:
        number: any finite number [any]
        decimals: how many decimals to keep, 0 to 9 [count]

    Returns:
        the rounded number [any]

    Source: ISO 80000-1:2009, annex B, rule B (from memory).
    """
    scale = 1.0
    i = 0
    while i < decimals:
        scale = scale * 10.0
        i = i + 1
    if number < 0:
        scaled = -(floor(-number * scale + 0.5)) / scale
    else:
        scaled = floor(number * scale + 0.5) / scale
    if scaled == 0:
        return 0.0
    return scaled
