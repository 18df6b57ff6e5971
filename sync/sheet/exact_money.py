"""A bill as the desk writes it: the kernel's whole numbers as exact decimals.

Nothing is added up or rounded here.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from sync.kernel import prices
from sync.kernel.prices import PLACES, decimal_text


def reckon(charges: list[Any], discount: str | None, digits: int) -> dict[str, Any]:
    """The bill of the kernel in decimals.

    Args:
        charges: {text, quantity, unit_price, tax_pct} each [decimal texts]
        discount: the amount that comes off [decimal text or None]
        digits: the currency's decimals [count]

    Returns:
        {lines: [{text, quantity, unit_price, tax_pct, net}], net, discount, taxes: [{rate, base, tax}], total}
        [Decimal money, percent]

    Raises:
        NoAmount: a text is no number.
    """
    bill = prices.reckon(charges, discount, digits)
    lines = [
        {
            "text": line["text"],
            "quantity": _decimal(line["quantity"], PLACES),
            "unit_price": _decimal(line["unit_price"], PLACES),
            "tax_pct": _decimal(line["tax_pct"], PLACES),
            "net": _decimal(line["net"], digits),
        }
        for line in bill["lines"]
    ]
    taxes = [
        {
            "rate": _decimal(row["rate"], PLACES),
            "base": _decimal(row["base"], digits),
            "tax": _decimal(row["tax"], digits),
        }
        for row in bill["taxes"]
    ]
    sums = {
        "net": _decimal(bill["net"], digits),
        "discount": _decimal(bill["discount"], digits),
        "total": _decimal(bill["total"], digits),
    }
    return {"lines": lines, "taxes": taxes, **sums}


def _decimal(value: int, digits: int) -> Decimal:
    return Decimal(decimal_text(value, digits))
