"""A visit's bill in exact money, as the price block and the books of many visits both need it.

It words and rounds nothing; the sums are those of the kernel's reckoning.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any, TypedDict, cast

from sync.kernel.prices import reckon
from sync.kernel.visit import Visit


class BillLine(TypedDict):
    """A price line and its net sum."""

    text: str
    quantity: Decimal
    unit_price: Decimal
    tax_pct: Decimal
    net: Decimal


class TaxLine(TypedDict):
    """The tax of one rate [percent], and what it is charged on."""

    rate: Decimal
    base: Decimal
    tax: Decimal


class Bill(TypedDict):
    """A bill: its lines, their sum before the discount, the discount, the tax of each rate above zero, the total."""

    lines: list[BillLine]
    net: Decimal
    discount: Decimal
    taxes: list[TaxLine]
    total: Decimal


def full_bill(visit: Visit, digits: int) -> Bill:
    """The bill of a visit.

    Args:
        visit: the visit [Visit]
        digits: the currency's decimals [count]

    Returns:
        the bill; all zero without a price line [Decimal money]

    Raises:
        decimal.InvalidOperation: a price is no number.
    """
    charges = cast(list[dict[str, Any]], visit.get("charges") or [])
    # The kernel's function gives plain objects of exactly this shape.
    return cast(Bill, reckon(charges, visit.get("discount"), digits))
