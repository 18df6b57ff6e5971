"""What was signed for against what stands there now, sums added by hand (common practice, no source)."""

from __future__ import annotations

import pytest

from sync.kernel.signing import signed_otherwise

LINE = {"id": "p1", "text": "Condenser cleaned", "quantity": "1", "unit_price": "120.00", "tax_pct": "8.25"}
SIGNED = {"sum": "129.90", "work": "condenser cleaned", "done": ["condenser_cleaned"], "moved": []}
VISIT = {"id": "v", "schema": 1, "charges": [LINE], "currency": "USD",
         "work": [{"id": "w1", "code": "condenser_cleaned"}], "signature": SIGNED}


@pytest.mark.parametrize(("change", "found"), [
    ({}, []),
    ({"charges": [LINE, {"id": "p2", "text": "Dye check", "unit_price": "15.00", "tax_pct": "8.25"}]}, ["bill"]),
    ({"discount": "10"}, ["bill"]),
    ({"charges": []}, ["bill"]),
    ({"work": []}, ["work"]),
    ({"work": [{"id": "w2", "code": "gap_cleaned"}, {"id": "w1", "code": "condenser_cleaned"}]}, ["work"]),
    ({"refrigerant_moves": [{"id": "m1", "kind": "charged"}]}, ["work"]),
    ({"work": [], "charges": []}, ["bill", "work"]),
    ({"signature": {**SIGNED, "sum": "129.9"}}, []),
    ({"signature": {"name": "R. Okello"}}, []),
    ({"signature": {"done": ["condenser_cleaned"], "moved": []}}, ["bill"]),
    ({"signature": None}, []),
])
def test_what_is_another_now_is_named(change, found):
    """120.00 and 8.25 % of it, 9.90, are 129.90; what an old signature does not name is not called changed."""
    assert signed_otherwise({**VISIT, **change}, 2) == found


def test_a_currency_without_decimals_is_compared_in_its_own():
    """5000 yen are 5000 yen, however they are written."""
    charges = [{"id": "p1", "text": "Test", "unit_price": "5000"}]
    assert signed_otherwise({"id": "v", "schema": 1, "charges": charges, "signature": {"sum": "5000.0"}}, 0) == []
