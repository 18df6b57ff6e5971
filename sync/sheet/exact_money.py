"""A visit's bill as the desk writes it: the kernel's whole numbers as exact decimals.

Nothing is added up, rounded or worded here.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TypedDict

from sync.kernel import prices
from sync.kernel.prices import PLACES, decimal_text
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
        the bill; all zero without a price line [Decimal money, percent]

    Raises:
        NoAmount: a price isn't a number.
    """
    bill = prices.reckon(visit.get("charges") or [], visit.get("discount"), digits)
    lines: list[BillLine] = [
        {
            "text": line["text"],
            "quantity": _decimal(line["quantity"], PLACES),
            "unit_price": _decimal(line["unit_price"], PLACES),
            "tax_pct": _decimal(line["tax_pct"], PLACES),
            "net": _decimal(line["net"], digits),
        }
        for line in bill["lines"]
    ]
    taxes: list[TaxLine] = [
        {
            "rate": _decimal(row["rate"], PLACES),
            "base": _decimal(row["base"], digits),
            "tax": _decimal(row["tax"], digits),
        }
        for row in bill["taxes"]
    ]
    return {
        "lines": lines, "taxes": taxes, "net": _decimal(bill["net"], digits),
        "discount": _decimal(bill["discount"], digits), "total": _decimal(bill["total"], digits),
    }


def _decimal(value: int, digits: int) -> Decimal:
    return Decimal(decimal_text(value, digits))
