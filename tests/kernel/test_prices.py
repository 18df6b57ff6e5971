"""Exact money: lines, discount shared among tax rates, tax and total, all added up by hand here.

The rounding of sums half up is common practice, no source.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from sync.kernel.prices import reckon


def charge(price: str, tax: str, quantity: str = "1") -> dict[str, str]:
    """One price line."""
    return {"text": "x", "quantity": quantity, "unit_price": price, "tax_pct": tax}


def test_cents_add_up_without_binary_rounding() -> None:
    """Ten lines of 0.10 are 1.00, which binary floating point does not give."""
    assert reckon([charge("0.10", "0")] * 10, None, 2)["total"] == Decimal("1.00")


def test_each_rate_is_taxed_on_its_own_base() -> None:
    """100 at 20 % and 50 at 10 %: 20 and 5, total 175."""
    bill = reckon([charge("100", "20"), charge("50", "10")], None, 2)
    assert [(row["rate"], row["base"], row["tax"]) for row in bill["taxes"]] == [(10, 50, 5), (20, 100, 20)]
    assert bill["total"] == Decimal("175.00")


def test_a_discount_is_shared_in_proportion() -> None:
    """10 off 100 and 50: 6.67 and 3.33; taxes 18.67 and 4.67; total 163.34."""
    bill = reckon([charge("100", "20"), charge("50", "10")], "10", 2)
    bases = {int(row["rate"]): str(row["base"]) for row in bill["taxes"]}
    assert bases == {10: "46.67", 20: "93.33"}
    assert bill["total"] == Decimal("163.34")


def test_half_a_cent_goes_up() -> None:
    """0.125 at two decimals is 0.13, and a currency without decimals rounds to whole units."""
    assert reckon([charge("0.125", "0")], None, 2)["net"] == Decimal("0.13")
    assert reckon([charge("12.5", "0")], None, 0)["total"] == Decimal("13")


def test_an_absent_quantity_is_one_and_an_absent_price_nothing() -> None:
    """A line with a text alone costs nothing and still stands."""
    bill = reckon([{"text": "look round"}, {"text": "call-out", "unit_price": "15"}], None, 2)
    assert [line["net"] for line in bill["lines"]] == [Decimal(0), Decimal(15)]


def test_a_price_that_is_no_number_is_refused() -> None:
    """Words in a price are an error, not a zero."""
    with pytest.raises(ArithmeticError) as refused:
        reckon([charge("twelve", "0")], None, 2)
    assert type(refused.value).__name__ == "InvalidOperation"
