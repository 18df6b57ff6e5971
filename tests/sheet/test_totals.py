"""Sums over visits: exact money, refrigerant by mass, cylinders by weight and by the book.

Added up by hand; visits are invented.
"""

from __future__ import annotations

import copy
from decimal import Decimal
from typing import Any

from sync.sheet import totals
from tests.support.sheet_visits import DECLINED, MOVED, PAIR

CYLINDER: dict[str, Any] = {
    **copy.deepcopy(MOVED),
    "refrigerant_moves": [
        {"id": "m2", "kind": "charged", "refrigerant": "R134a", "grams": 550, "cylinder": "B7", "at":
            "2026-07-14T19:30:00+02:00", "cylinder_before_g": 9400, "cylinder_after_g": 8862},
        {"id": "m1", "kind": "recovered", "refrigerant": "R134a", "grams": 410, "cylinder": "R1", "at":
            "2026-07-14T18:50:00+02:00", "cylinder_before_g": 5000, "cylinder_after_g": 5405},
        {"id": "m3", "kind": "vacuum", "pressure_pa": 65},
        {"id": "m4", "kind": "charged", "refrigerant": "R1234yf", "grams": 20},
        {"id": "m5", "kind": "recovered", "refrigerant": "R1234yf", "cylinder": "R2", "cylinder_before_g": 100},
    ],
}


def test_money_is_added_exactly_by_currency() -> None:
    """120.00 EUR paid by card twice; a yen bill unpaid; a visit without price lines counts for nothing."""
    yen = {**copy.deepcopy(PAIR), "currency": "JPY", "paid": None, "discount": None,
           "charges": [{"id": "p1", "text": "Test", "quantity": "1", "unit_price": "5000", "tax_pct": "10"}]}
    euro, japanese = totals.money([PAIR, PAIR, yen, DECLINED], {"JPY": 0})
    assert euro == {"currency": "EUR", "net": Decimal("200.00"), "tax": Decimal("40.00"), "total": Decimal("240.00"),
                    "paid": {"card": Decimal("240.00")}, "unpaid": Decimal(0)}
    assert (japanese["total"], japanese["unpaid"], japanese["paid"]) == (Decimal(5500), Decimal(5500), {})


def test_moves_come_in_the_order_of_time() -> None:
    """Only what was recovered or charged; one without a time is placed at its visit's start."""
    assert [row["move"]["id"] for row in totals.moves([CYLINDER])] == ["m4", "m5", "m1", "m2"]


def test_recovered_and_charged_are_not_set_off() -> None:
    """Two sums per refrigerant, and how many entries had no mass."""
    assert totals.refrigerants(totals.moves([CYLINDER])) == [
        {"refrigerant": "R1234yf", "recovered_g": 0.0, "charged_g": 20.0, "unweighed": 1},
        {"refrigerant": "R134a", "recovered_g": 410.0, "charged_g": 550.0, "unweighed": 0},
    ]


def test_a_cylinder_is_weighed_against_the_book() -> None:
    """9400 to 8862 g is 538 g less; the book says 550 g out, so the scale shows 12 g more than the book."""
    rows = {row["cylinder"]: row for row in totals.cylinders(totals.moves([CYLINDER]))}
    assert rows["B7"] == {"cylinder": "B7", "first_g": 9400, "last_g": 8862, "weighed_g": -538, "book_g": -550.0,
                          "difference_g": 12.0}
    assert rows["R1"]["difference_g"] == -5.0


def test_what_was_not_weighed_is_not_compared() -> None:
    """One weight missing, one mass missing, no cylinder named: nothing is invented."""
    rows = {row["cylinder"]: row for row in totals.cylinders(totals.moves([CYLINDER]))}
    assert (rows["R2"]["weighed_g"], rows["R2"]["book_g"], rows["R2"]["difference_g"]) == (None, None, None)
    assert (rows[""]["weighed_g"], rows[""]["book_g"]) == (None, -20.0)


def test_a_cylinder_over_several_visits_holds_what_nobody_wrote_down() -> None:
    """First weight to last, over two visits; 100 g that vanished between them show."""
    second = copy.deepcopy(CYLINDER)
    second["refrigerant_moves"] = [{"id": "n1", "kind": "charged", "refrigerant": "R134a", "grams": 300,
                                    "cylinder": "B7", "at": "2026-07-15T09:00:00+02:00", "cylinder_before_g": 8762,
                                    "cylinder_after_g": 8462}]
    rows = {row["cylinder"]: row for row in totals.cylinders(totals.moves([CYLINDER, second]))}
    assert (rows["B7"]["weighed_g"], rows["B7"]["book_g"], rows["B7"]["difference_g"]) == (-938, -850.0, -88.0)
