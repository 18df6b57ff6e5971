"""Price lines, discount, tax and total in exact decimal money.

It knows no words and no page; what a sum is called belongs to the sheet.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal, localcontext
from typing import Any

HUNDRED = Decimal(100)


def money(text: Any, empty: str = "0") -> Decimal:
    """A decimal string as exact money; an absent one counts as `empty`."""
    return Decimal(str(empty if text in (None, "") else text))


def reckon(charges: list[dict[str, Any]], discount: Any, digits: int) -> dict[str, Any]:
    """The bill: each line's net sum, the discount, the tax of each rate on its own base, and the total.

    Unit prices are without tax. The discount comes off before tax, shared among the rates in proportion to their
    sums, its last fraction on the largest. Sums are rounded half up once a line and once a rate (common practice).

    Args:
        charges: {text, quantity, unit_price, tax_pct} each [decimal strings]
        discount: the amount that comes off [decimal string or None]
        digits: the currency's decimals [count]

    Returns:
        {lines: [{text, quantity, unit_price, tax_pct, net}], net, discount, taxes: [{rate, base, tax}], total}
        [Decimal money, percent]

    Raises:
        decimal.InvalidOperation: a text is no number.
    """
    with localcontext() as context:
        context.prec = 40
        step = Decimal(1).scaleb(-digits)
        lines = [_line(charge, step) for charge in charges]
        net = sum((line["net"] for line in lines), Decimal(0))
        off = money(discount).quantize(step, ROUND_HALF_UP)
        bases = _bases(lines, off, net, step)
        taxes = [{"rate": rate, "base": base, "tax": (base * rate / HUNDRED).quantize(step, ROUND_HALF_UP)}
                 for rate, base in sorted(bases.items())]
        total = net - off + sum((row["tax"] for row in taxes), Decimal(0))
        taxed = [row for row in taxes if row["rate"] != 0]
    return {"lines": lines, "net": net, "discount": off, "taxes": taxed, "total": total}


def _line(charge: dict[str, Any], step: Decimal) -> dict[str, Any]:
    quantity, price = money(charge.get("quantity"), "1"), money(charge.get("unit_price"))
    return {
        "text": charge.get("text") or "",
        "quantity": quantity,
        "unit_price": price,
        "tax_pct": money(charge.get("tax_pct")),
        "net": (quantity * price).quantize(step, ROUND_HALF_UP),
    }


def _bases(lines: list[dict[str, Any]], off: Decimal, net: Decimal, step: Decimal) -> dict[Decimal, Decimal]:
    """What each tax rate is charged on, after its share of the discount."""
    sums: dict[Decimal, Decimal] = {}
    for line in lines:
        rate = line["tax_pct"].normalize()
        sums[rate] = sums.get(rate, Decimal(0)) + line["net"]
    if not off or not net:
        return sums
    shares = {rate: (off * part / net).quantize(step, ROUND_HALF_UP) for rate, part in sums.items()}
    largest = max(sums, key=lambda rate: (sums[rate], rate))
    shares[largest] += off - sum(shares.values(), Decimal(0))
    return {rate: part - shares[rate] for rate, part in sums.items()}
