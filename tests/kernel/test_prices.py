"""Exact money: lines, discount shared among tax rates, tax and total, all added up by hand here.

The rounding of sums half up is common practice, no source. Sums are in the smallest unit, rates in millionths.
"""

from __future__ import annotations

import random

import pytest

from sync.kernel.prices import NoAmount, decimal_text, reckon
from sync.kernel.visit import Charge

PERCENT = 1_000_000


def charge(price: str, tax: str, quantity: str = "1") -> Charge:
    """One price line."""
    return {"id": "c", "text": "x", "quantity": quantity, "unit_price": price, "tax_pct": tax}


def random_bill(chance: random.Random) -> tuple[list[dict[str, str]], str | None, int]:
    """Up to six lines with odd fractions, credits, several rates, with and without a discount."""

    def amount(whole: int, places: int) -> str:
        text = str(chance.randint(-whole // 9, whole))
        return text if places == 0 else f"{text}.{chance.randint(0, 10**places - 1):0{places}d}"

    charges = []
    for _ in range(chance.randint(0, 6)):
        rate = chance.choice(["0", "7", "19", "7.5", "20.0"])
        line = {"unit_price": amount(900, chance.choice([0, 2, 2, 3, 6])), "tax_pct": rate}
        if chance.random() < 0.6:
            line["quantity"] = amount(9, chance.choice([0, 1, 3]))
        charges.append({name: text for name, text in line.items() if chance.random() < 0.95})
    return charges, chance.choice([None, "0", amount(50, 2), amount(5, 4)]), chance.choice([2, 2, 0, 3])


def test_cents_add_up_without_binary_rounding() -> None:
    """Ten lines of 0.10 are 1.00, which binary floating point does not give."""
    assert reckon([charge("0.10", "0")] * 10, None, 2)["total"] == 100


def test_each_rate_is_taxed_on_its_own_base() -> None:
    """100 at 20 % and 50 at 10 %: 20 and 5, total 175."""
    bill = reckon([charge("100", "20"), charge("50", "10")], None, 2)
    assert bill["taxes"] == [
        {"rate": 10 * PERCENT, "base": 5000, "tax": 500},
        {"rate": 20 * PERCENT, "base": 10000, "tax": 2000},
    ]
    assert bill["total"] == 17500


def test_a_discount_is_shared_in_proportion() -> None:
    """10 off 100 and 50: 6.67 and 3.33; taxes 18.67 and 4.67; total 163.34."""
    bill = reckon([charge("100", "20"), charge("50", "10")], "10", 2)
    assert [(row["rate"], row["base"]) for row in bill["taxes"]] == [(10 * PERCENT, 4667), (20 * PERCENT, 9333)]
    assert bill["total"] == 16334


def test_the_last_fraction_of_a_discount_falls_on_the_largest_sum() -> None:
    """0.02 off three times 1.00 at three rates: 0.01 each would be 0.03, so the highest rate takes 0.00."""
    bill = reckon([charge("1", "5"), charge("1", "10"), charge("1", "20")], "0.02", 2)
    assert [row["base"] for row in bill["taxes"]] == [99, 99, 100]


def test_half_a_cent_goes_up() -> None:
    """0.125 at two decimals is 0.13, and a currency without decimals rounds to whole units."""
    assert reckon([charge("0.125", "0")], None, 2)["net"] == 13
    assert reckon([charge("-0.125", "0")], None, 2)["net"] == -13
    assert reckon([charge("12.5", "0")], None, 0)["total"] == 13


def test_an_absent_quantity_is_one_and_an_absent_price_nothing() -> None:
    """A line with only a text costs nothing and is still printed."""
    bill = reckon([{"id": "a", "text": "look round"}, {"id": "b", "text": "call-out", "unit_price": "15"}], None, 2)
    assert [line["net"] for line in bill["lines"]] == [0, 1500]


@pytest.mark.parametrize("text", ["twelve", "1.2.3", "1,5", "0x10", ".5", "5.", "--1", "1e3", "1.1234567", " 1"])
def test_a_price_that_is_no_number_is_refused(text: str) -> None:
    """Words in a price are an error, not a zero."""
    with pytest.raises(NoAmount) as refused:
        reckon([charge(text, "0")], None, 2)
    assert refused.value.values == {"text": text}


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(8500, 2, "85.00"), (-3, 0, "-3"), (125, 3, "0.125"), (-5, 2, "-0.05"), (0, 2, "0.00")],
)
def test_a_sum_is_written_with_its_decimals(value: int, digits: int, text: str) -> None:
    """A way of writing."""
    assert decimal_text(value, digits) == text
