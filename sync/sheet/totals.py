"""Sums over many visits: money, distance, refrigerant by mass, and cylinders weighed against what the moves say.

It knows no words and no page; every figure is exact or canonical, and nothing is rounded here.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from sync.sheet.exact_money import reckon

Visit = dict[str, Any]
# Into a cylinder, out of a cylinder: what a move adds to the cylinder's weight by the book.
INTO = {"recovered": 1.0, "charged": -1.0}


def money(visits: Sequence[Visit], minor_digits: dict[str, int]) -> list[dict[str, Any]]:
    """What was charged and what of it is paid, currency by currency.

    Args:
        visits: the visits [design shapes]
        minor_digits: decimals of the currencies that do not have two [count by code]

    Returns:
        {currency, net, tax, total, paid: {method: sum}, unpaid} each, by currency [Decimal money]

    Raises:
        NoAmount: a price is no number.
    """
    sums: dict[str, dict[str, Any]] = {}
    for visit in visits:
        bill = bill_of(visit, minor_digits)
        if bill is None:
            continue
        row = sums.setdefault(bill["currency"], {"currency": bill["currency"], "net": Decimal(0), "tax": Decimal(0),
                                                 "total": Decimal(0), "paid": {}, "unpaid": Decimal(0)})
        for part in ("net", "tax", "total"):
            row[part] += bill[part]
        if bill["paid"]:
            row["paid"][bill["paid"]] = row["paid"].get(bill["paid"], Decimal(0)) + bill["total"]
        else:
            row["unpaid"] += bill["total"]
    return [sums[currency] for currency in sorted(sums)]


def bill_of(visit: Visit, minor_digits: dict[str, int]) -> dict[str, Any] | None:
    """One visit's bill in short.

    Args:
        visit: the visit [design shape]
        minor_digits: decimals of the currencies that do not have two [count by code]

    Returns:
        {currency, net (after the discount), tax, total, paid (the method, "" when unpaid)}, None without a price line
        [Decimal money]

    Raises:
        NoAmount: a price is no number.
    """
    if not visit.get("charges"):
        return None
    currency = str(visit.get("currency") or "")
    bill = reckon(visit["charges"], visit.get("discount"), minor_digits.get(currency, 2))
    tax = sum((row["tax"] for row in bill["taxes"]), Decimal(0))
    return {"currency": currency, "net": bill["total"] - tax, "tax": tax, "total": bill["total"],
            "paid": str((visit.get("paid") or {}).get("method") or "")}


def moves(visits: Sequence[Visit]) -> list[dict[str, Any]]:
    """Every mass of refrigerant that was recovered or charged, in the order of time.

    Args:
        visits: the visits [design shapes]

    Returns:
        {at, visit (the visit itself), move (the move itself)} each; `at` is the move's time, else the visit's start
        [list]
    """
    found = [{"at": str(move.get("at") or visit["started_at"]), "visit": visit, "move": move}
             for visit in visits for move in visit.get("refrigerant_moves") or [] if move["kind"] in INTO]
    return sorted(found, key=lambda row: (row["at"], row["move"]["id"]))


def refrigerants(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Masses by refrigerant; recovered and charged are never set off against each other.

    Args:
        rows: as from `moves` [list]

    Returns:
        {refrigerant, recovered_g, charged_g, unweighed (moves without a mass)} each, by code [g, count]
    """
    sums: dict[str, dict[str, Any]] = {}
    for row in rows:
        move = row["move"]
        code = str(move.get("refrigerant") or "unknown")
        kept = sums.setdefault(code, {"refrigerant": code, "recovered_g": 0.0, "charged_g": 0.0, "unweighed": 0})
        if move.get("grams") is None:
            kept["unweighed"] += 1
        else:
            kept[f"{move['kind']}_g"] += float(move["grams"])
    return [sums[code] for code in sorted(sums)]


def cylinders(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Each cylinder's weight as the scale told it against what the moves amount to.

    The scale's change runs from the first weight before a move to the last weight after one, so that it also holds what
    nobody wrote down. Without both there is nothing to compare.

    Args:
        rows: as from `moves` [list]

    Returns:
        {cylinder ("" where none was named), first_g, last_g, weighed_g, book_g, difference_g (weighed less book)} each;
        None where it cannot be had [g]
    """
    names = dict.fromkeys(str(row["move"].get("cylinder") or "") for row in rows)
    return [_cylinder(name, [row["move"] for row in rows if str(row["move"].get("cylinder") or "") == name])
            for name in sorted(names, key=lambda name: (not name, name))]


def _cylinder(name: str, held: list[dict[str, Any]]) -> dict[str, Any]:
    before = [move["cylinder_before_g"] for move in held if move.get("cylinder_before_g") is not None]
    after = [move["cylinder_after_g"] for move in held if move.get("cylinder_after_g") is not None]
    known = all(move.get("grams") is not None for move in held)
    book = sum(INTO[move["kind"]] * float(move["grams"]) for move in held) if known else None
    weighed = after[-1] - before[0] if name and before and after else None
    return {"cylinder": name, "first_g": before[0] if before else None, "last_g": after[-1] if after else None,
            "weighed_g": weighed, "book_g": book,
            "difference_g": weighed - book if weighed is not None and book is not None else None}
