"""Books whose whole pages are kept as text: of one technician, of two who share cylinders, and of one of the two.

No test lives here; visits are invented, built on those of sheet_visits.
"""

from __future__ import annotations

import copy
from datetime import date
from typing import Any

from sync.sheet.ledger import Totals
from sync.sheet.ledger_choice import LedgerChoice
from tests.support.ops import uuid7
from tests.support.sheet_visits import DECLINED, MOVED, PAIR, STARTED_MS

DAY, MONTH = (date(2026, 7, 14), date(2026, 7, 14)), (date(2026, 7, 1), date(2026, 7, 31))
SECOND = {"id": uuid7(STARTED_MS, 77), "name": "Sunniva Blackwood-Ekström", "business": "Alder Coast Mobile Cooling",
          "certificate_no": "AC-0188"}


def _move(number: int, kind: str, grams: int | None, cylinder: str, at: str, **more: Any) -> dict[str, Any]:
    made = {"id": f"m{number}", "kind": kind, "refrigerant": "R134a", "grams": grams, "cylinder": cylinder,
            "at": f"2026-07-14T{at}:00+02:00", **more}
    return {name: value for name, value in made.items() if value is not None}


WEIGHED: dict[str, Any] = {**copy.deepcopy(MOVED), "distance_km": 22.5, "refrigerant_moves": [
    _move(1, "recovered", 410, "R1", "18:50", cylinder_before_g=5000, cylinder_after_g=5405),
    _move(2, "charged", 550, "B7", "19:30", cylinder_before_g=9400, cylinder_after_g=8862),
    _move(3, "charged", 20, "", "19:40", refrigerant="R1234yf"),
]}
MORNING: dict[str, Any] = {
    "id": uuid7(STARTED_MS - 20_000_000, 5), "schema": 1, "started_at": "2026-07-14T08:30:00+02:00", "outcome": "done",
    "technician": SECOND, "distance_km": 31.4, "place": {"label": "Upper Saltmarsh Road 118"},
    "customer": {"id": "c7", "name": "Basil Thornquist-Amoretti"},
    "vehicle": {"id": "v7", "make": "Ostrel", "model": "Kombi Lang 2.4", "plate": "HMR 20811", "refrigerant": "R134a"},
    "currency": "EUR", "charges": [{"id": "p1", "text": "Recharge", "quantity": "1", "unit_price": "1145.50",
                                    "tax_pct": "20"}],
    "refrigerant_moves": [
        _move(1, "recovered", 310, "R1", "08:50", cylinder_before_g=4700, cylinder_after_g=5012),
        _move(2, "charged", 480, "B7", "09:20", cylinder_before_g=9895, cylinder_after_g=9418, by="M. Roe"),
    ],
}
EVENING: dict[str, Any] = {
    "id": uuid7(STARTED_MS + 20_000_000, 6), "schema": 1, "started_at": "2026-07-14T20:00:00+02:00", "outcome": "done",
    # As a phone writes it that hasn't learnt the id yet.
    "technician": {"name": "sunniva blackwood-ekström"}, "customer": {"id": "c8", "name": "Ode Farrow"},
    "vehicle": {"id": "v8", "make": "Tarn", "model": "Pico", "plate": "FT 5510", "refrigerant": "R134a"},
    "refrigerant_moves": [_move(1, "charged", 300, "B7", "20:10", cylinder_after_g=8560)],
}
ONE, TWO = (PAIR, DECLINED, WEIGHED), (MORNING, PAIR, DECLINED, WEIGHED, EVENING)
# Which visits, which days, the language, and whom it is about.
BOOKS: dict[str, tuple[Any, tuple[date, date], str, str]] = {
    "book_day": (ONE, DAY, "en", ""), "book_ledger": (ONE, MONTH, "en", ""),
    "book_day_of_two": (TWO, DAY, "en", ""), "book_ledger_of_two": (TWO, MONTH, "es", ""),
    "book_day_of_one_of_two": (TWO, DAY, "es", SECOND["name"]),
    "book_ledger_of_one_of_two": (TWO, MONTH, "en", "i. varga"),
}  # fmt: skip


def book_of(kind: str, rulebook: dict[str, Any]) -> Any:
    """A book's page as data for printing."""
    visits, period, language, technician = BOOKS[kind]
    books = Totals(visits, period, rulebook, {"language": language})
    if technician:
        books = books.chosen(LedgerChoice(technician=technician))
    return books.day_page() if period == DAY else books.ledger_page()
