"""Price lines, discount, tax and total in exact money: whole numbers of millionths and of the smallest unit.

It knows no words and no page; the name of a sum belongs to the sheet, and to the form on the phone.
"""

from __future__ import annotations

from typing import TypedDict

from sync.errors import LaybyError
from sync.kernel.primitives import Whole
from sync.kernel.visit import Charge

DIGITS = "0123456789"
# The decimals with which quantities, prices and rates are kept.
PLACES = 6
HUNDRED_PERCENT: Whole = 100_000_000


class NoAmount(LaybyError):
    """A text that should be an amount isn't one."""

    code = "no_amount"


class BillLine(TypedDict):
    """A line of the bill [millionths of one, of money and of a percent; `net` in the smallest unit]."""

    text: str
    quantity: Whole
    unit_price: Whole
    tax_pct: Whole
    net: Whole


class TaxRow(TypedDict):
    """What one rate is charged on and what it comes to [millionths of a percent, smallest unit]."""

    rate: Whole
    base: Whole
    tax: Whole


class Bill(TypedDict):
    """A bill [smallest unit]; rates that charge nothing are left out of `taxes`."""

    lines: list[BillLine]
    net: Whole
    discount: Whole
    taxes: list[TaxRow]
    total: Whole


def _is_number(text: str) -> bool:
    return len(text) > 0 and all(letter in DIGITS for letter in text)


def _millionths(text: str | None, empty: str) -> Whole:
    """A decimal text in millionths; an absent one counts as `empty`."""
    amount = text or empty
    parts = (amount[1:] if amount.startswith("-") else amount).split(".")
    decimals = parts[1] if len(parts) == 2 else "0"
    if len(parts) > 2 or not _is_number(parts[0]) or not _is_number(decimals) or len(decimals) > PLACES:
        raise NoAmount(text=amount)
    while len(decimals) < PLACES:
        decimals = decimals + "0"
    value: Whole = int(parts[0] + decimals)
    return -value if amount.startswith("-") else value


def _magnitude(value: Whole) -> Whole:
    return -value if value < 0 else value


def _half_away(value: Whole, by: Whole) -> Whole:
    """A quotient as a whole number, rounded half away from zero; `by` may be negative."""
    quotient = (2 * _magnitude(value) + _magnitude(by)) // (2 * _magnitude(by))
    return quotient if (value < 0) == (by < 0) else -quotient


def _tens(count: int) -> Whole:
    """A power of ten."""
    power: Whole = 1
    for _ in range(count):
        power = power * 10
    return power


def _line(charge: Charge, digits: int) -> BillLine:
    quantity, unit_price = _millionths(charge.get("quantity"), "1"), _millionths(charge.get("unit_price"), "0")
    return {
        "text": charge.get("text") or "",
        "quantity": quantity,
        "unit_price": unit_price,
        "tax_pct": _millionths(charge.get("tax_pct"), "0"),
        "net": _half_away(quantity * unit_price, _tens(2 * PLACES - digits)),
    }


def _by_rate(lines: list[BillLine]) -> list[TaxRow]:
    """The net sum of each rate, by rising rate."""
    rows: list[TaxRow] = []
    for line in lines:
        at = 0
        while at < len(rows) and rows[at]["rate"] < line["tax_pct"]:
            at = at + 1
        if at == len(rows) or rows[at]["rate"] != line["tax_pct"]:
            rows.insert(at, {"rate": line["tax_pct"], "base": 0, "tax": 0})
        rows[at]["base"] = rows[at]["base"] + line["net"]
    return rows


def _take_off(rows: list[TaxRow], discount: Whole, net: Whole) -> None:
    """Share the discount among the rates; the last fraction goes to the largest sum, on a tie to the higher rate."""
    if discount == 0 or net == 0:
        return
    largest = rows[0]
    for row in rows:
        if row["base"] >= largest["base"]:
            largest = row
    left = discount
    for row in rows:
        share = _half_away(discount * row["base"], net)
        left = left - share
        row["base"] = row["base"] - share
    largest["base"] = largest["base"] - left


def reckon(charges: list[Charge], discount: str | None, digits: int) -> Bill:
    """The bill: each line's net sum, the discount, the tax of each rate on its own base, and the total.

    Unit prices are without tax. The discount comes off before tax and is shared among the rates in proportion to their
    sums. Sums are rounded half away from zero, once per line and once per rate.

    Args:
        charges: {text, quantity, unit_price, tax_pct} each [decimal texts]
        discount: the amount that comes off [decimal text or None]
        digits: the currency's decimals, 0 to 6 [count]

    Returns:
        {lines, net, discount, taxes, total} in whole numbers [smallest unit; millionths in lines and rates]

    Valid for: amounts of at most six decimals.

    Raises:
        NoAmount: a text isn't such a number.

    Source: common practice, no source.
    """
    lines = [_line(charge, digits) for charge in charges]
    net: Whole = 0
    for line in lines:
        net = net + line["net"]
    off = _half_away(_millionths(discount, "0"), _tens(PLACES - digits))
    rows = _by_rate(lines)
    _take_off(rows, off, net)
    total = net - off
    for row in rows:
        row["tax"] = _half_away(row["base"] * row["rate"], HUNDRED_PERCENT)
        total = total + row["tax"]
    taxes = [row for row in rows if row["rate"] != 0]
    return {"lines": lines, "net": net, "discount": off, "taxes": taxes, "total": total}


def decimal_text(value: Whole, digits: int) -> str:
    """A whole number of smallest units as a decimal text.

    Args:
        value: the sum, rate or quantity [smallest unit or millionths]
        digits: how many of its digits are decimals [count]

    Returns:
        such as "85.00", "-3" or "0.125" [decimal text]

    Source: none; a way of writing.
    """
    row = str(_magnitude(value))
    while len(row) <= digits:
        row = "0" + row
    point = len(row) - digits
    text = row[:point] + "." + row[point:] if digits > 0 else row
    return "-" + text if value < 0 else text
