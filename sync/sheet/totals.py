"""Sums over many visits: money, distance, refrigerant by mass, and cylinders by weight and by their moves.

It knows no words and no page; every figure is exact or canonical, and nothing is rounded here.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import TypedDict

from sync.kernel.visit import Move, Visit
from sync.sheet.exact_money import full_bill

# Into a cylinder, out of a cylinder: what a move adds to the cylinder's weight by the book.
INTO = {"recovered": 1.0, "charged": -1.0}


class BillTotals(TypedDict):
    """One visit's bill in short; `net` is after the discount, `paid` is the method, empty if unpaid."""

    currency: str
    net: Decimal
    tax: Decimal
    total: Decimal
    paid: str


class CurrencyTotals(TypedDict):
    """What was charged in one currency, how much of it is paid by each method, and how much isn't."""

    currency: str
    net: Decimal
    tax: Decimal
    total: Decimal
    paid: dict[str, Decimal]
    unpaid: Decimal


class MassMoved(TypedDict):
    """A mass of refrigerant that was recovered or charged; `at` is the move's time, otherwise the visit's start."""

    at: str
    visit: Visit
    move: Move


class RefrigerantTotals(TypedDict):
    """Masses of one refrigerant [g], and how many moves weren't weighed."""

    refrigerant: str
    recovered_g: float
    charged_g: float
    unweighed: int


class CylinderTotals(TypedDict):
    """A cylinder ("" if none was named) by the scale and by the book [g]; None for an unavailable figure."""

    cylinder: str
    first_g: float | None
    last_g: float | None
    weighed_g: float | None
    book_g: float | None
    difference_g: float | None


def driven_km(visits: Sequence[Visit]) -> float | None:
    """How far was driven for visits.

    Args:
        visits: the visits [list]

    Returns:
        the sum; None if no visit says [km]
    """
    driven = [float(visit["distance_km"]) for visit in visits if visit.get("distance_km") is not None]
    return sum(driven) if driven else None


def money(visits: Sequence[Visit], minor_digits: dict[str, int]) -> list[CurrencyTotals]:
    """What was charged and how much of it is paid, currency by currency.

    Args:
        visits: the visits [list]
        minor_digits: decimals of the currencies that don't have two [count by code]

    Returns:
        a row for each currency, in order [Decimal money]

    Raises:
        NoAmount: a price isn't a number.
    """
    sums: dict[str, CurrencyTotals] = {}
    for visit in visits:
        bill = bill_of(visit, minor_digits)
        if bill is None:
            continue
        row = sums.setdefault(bill["currency"], {"currency": bill["currency"], "net": Decimal(0), "tax": Decimal(0),
                                                 "total": Decimal(0), "paid": {}, "unpaid": Decimal(0)})
        row["net"], row["tax"] = row["net"] + bill["net"], row["tax"] + bill["tax"]
        row["total"] += bill["total"]
        if bill["paid"]:
            row["paid"][bill["paid"]] = row["paid"].get(bill["paid"], Decimal(0)) + bill["total"]
        else:
            row["unpaid"] += bill["total"]
    return [sums[currency] for currency in sorted(sums)]


def bill_of(visit: Visit, minor_digits: dict[str, int]) -> BillTotals | None:
    """One visit's bill in short.

    Args:
        visit: the visit [Visit]
        minor_digits: decimals of the currencies that don't have two [count by code]

    Returns:
        its sums; None without a price line [Decimal money]

    Raises:
        NoAmount: a price isn't a number.
    """
    if not visit.get("charges"):
        return None
    currency = visit.get("currency") or ""
    bill = full_bill(visit, minor_digits.get(currency, 2))
    tax = sum((row["tax"] for row in bill["taxes"]), Decimal(0))
    return {"currency": currency, "net": bill["total"] - tax, "tax": tax, "total": bill["total"],
            "paid": (visit.get("paid") or {}).get("method") or ""}


def moves(visits: Sequence[Visit]) -> list[MassMoved]:
    """Every mass of refrigerant that was recovered or charged, in order of time.

    Args:
        visits: the visits [list]

    Returns:
        the moves with their visits [list]
    """
    rows: list[MassMoved] = [{"at": move.get("at") or visit["started_at"], "visit": visit, "move": move}
                             for visit in visits for move in visit.get("refrigerant_moves") or []
                             if move["kind"] in INTO]
    # By the instant, not by its text: the clocks of two phones, or one when summer time ends, write other offsets.
    return sorted(rows, key=lambda row: (datetime.fromisoformat(row["at"]).timestamp(), row["move"]["id"]))


def refrigerants(rows: Sequence[MassMoved]) -> list[RefrigerantTotals]:
    """Masses by refrigerant; recovered and charged are never netted.

    Args:
        rows: as from `moves` [list]

    Returns:
        a row for each refrigerant, by code [g, count]
    """
    sums: dict[str, RefrigerantTotals] = {}
    for row in rows:
        move = row["move"]
        code = move.get("refrigerant") or "unknown"
        total = sums.setdefault(code, {"refrigerant": code, "recovered_g": 0.0, "charged_g": 0.0, "unweighed": 0})
        if move.get("grams") is None:
            total["unweighed"] += 1
        elif move["kind"] == "recovered":
            total["recovered_g"] += float(move["grams"])
        else:
            total["charged_g"] += float(move["grams"])
    return [sums[code] for code in sorted(sums)]


def cylinders(rows: Sequence[MassMoved]) -> list[CylinderTotals]:
    """Each cylinder's change of weight by the scale, compared with the sum of its moves.

    The scale's change runs from the first weight before a move to the last weight after one, so it also includes what
    nobody wrote down. Without both there is nothing to compare.

    Args:
        rows: as from `moves` [list]

    Returns:
        a row for each cylinder, by name, the one without a name last; the difference is weighed minus book [g]
    """
    names = dict.fromkeys(row["move"].get("cylinder") or "" for row in rows)
    return [cylinder(name, [row for row in rows if (row["move"].get("cylinder") or "") == name])
            for name in sorted(names, key=lambda name: (not name, name))]


def cylinder(name: str, rows: Sequence[MassMoved]) -> CylinderTotals:
    """One cylinder's change of weight by the scale, compared with the sum of its moves.

    Args:
        name: the cylinder, "" if none was named, which then has no weight of its own [text]
        rows: its moves as from `moves` [list]

    Returns:
        its row; the difference is weighed minus book [g]
    """
    moves: list[Move] = [row["move"] for row in rows]
    before = [move["cylinder_before_g"] for move in moves if move.get("cylinder_before_g") is not None]
    after = [move["cylinder_after_g"] for move in moves if move.get("cylinder_after_g") is not None]
    complete = all(move.get("grams") is not None for move in moves)
    book = sum(INTO[move["kind"]] * float(move["grams"]) for move in moves) if complete else None
    weighed = after[-1] - before[0] if name and before and after else None
    return {"cylinder": name, "first_g": before[0] if before else None, "last_g": after[-1] if after else None,
            "weighed_g": weighed, "book_g": book,
            "difference_g": weighed - book if weighed is not None and book is not None else None}
