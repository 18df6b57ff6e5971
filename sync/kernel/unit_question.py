"""Whether a reading was read in another unit than it was typed in: asked, never changed here.

What is usual and which units are tried is rulebook data; how a reading judges is not touched.
"""

from __future__ import annotations

from typing import TypedDict

from sync.kernel.books import Rulebook
from sync.kernel.contradictions import plausible_range
from sync.kernel.units import to_canonical


class UnitQuestion(TypedDict):
    """The unit that a number would be usual in, what it would be then, and whether it cannot be right as typed."""

    unit: str
    value: float
    impossible: bool


def _within(value: float, limits: list[float]) -> bool:
    return float(limits[0]) <= value <= float(limits[1])


def _usual_of(field: str, refrigerant: str, rulebook: Rulebook) -> list[float] | None:
    book = rulebook["unit_question"]
    if refrigerant == "R744" and field in book["usual_r744"]:
        return book["usual_r744"][field]
    return book["usual"].get(field)


def _first_within(
    quantity: str, unit: str, number: float, limits: list[float], rulebook: Rulebook
) -> tuple[str, float] | None:
    book = rulebook["unit_question"]
    tried = book["below_zero"] if number < 0 else book["units"]
    for other in tried[quantity]:
        if other == unit:
            continue
        value = to_canonical(quantity, other, number, rulebook)
        if _within(value, limits):
            return other, value
    return None


def unit_question(
    field: str, number: float, unit: str, refrigerant: str, rulebook: Rulebook
) -> UnitQuestion | None:
    """The other unit that a number was probably read in; None where there is nothing to ask.

    A reading that is usual is not asked about. One that is unusual is asked about where another unit makes it usual,
    one that cannot be right also where another unit makes it merely possible, such as a vacuum.

    Args:
        field: the field of a test, such as "readings.low_kpa_g" [path]
        number: what was typed [unit]
        unit: the unit it was typed in [code]
        refrigerant: what is in the circuit now [code]
        rulebook: the rulebook [books by name]

    Returns:
        the first unit of the book that fits, never the one in use [JSON object]

    Raises:
        UnknownName: the unit is none of the field's quantity.

    Source: the rulebook's books `unit_question` and `fields` (common practice, no source).
    """
    row = rulebook["fields"]["scopes"]["tests"].get(field)
    usual = _usual_of(field, refrigerant, rulebook)
    if row is None or usual is None or "quantity" not in row:
        return None
    quantity = row["quantity"]
    value = to_canonical(quantity, unit, number, rulebook)
    if _within(value, usual):
        return None
    low, high = plausible_range(row, refrigerant)
    impossible = not _within(value, [low, high])
    found = _first_within(quantity, unit, number, usual, rulebook)
    if found is None and impossible:
        found = _first_within(quantity, unit, number, [low, high], rulebook)
    if found is None:
        return None
    other, would_be = found
    return {"unit": other, "value": would_be, "impossible": impossible}
