"""The sums of each van, and the cylinders that went from one van to another.

It knows no words and no page; every figure is exact or canonical, and nothing is rounded here.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise
from typing import TypedDict

from sync.kernel.visit import Visit
from sync.sheet import totals
from sync.sheet.totals import CurrencyTotals, CylinderTotals, MassMoved, RefrigerantTotals
from sync.sheet.vans import Van, Vans, order


class VanTotals(TypedDict):
    """One van's visits, how far it drove for them [km] (None if no visit says), and its money in each currency."""

    van: Van
    visits: int
    distance_km: float | None
    money: list[CurrencyTotals]


class VanRefrigerant(RefrigerantTotals):
    """The masses of one refrigerant that one van recovered and charged [g]."""

    van: Van


class VanCylinder(CylinderTotals):
    """A cylinder as long as it was with one van [g]; None for an unavailable figure."""

    van: Van


class Transfer(TypedDict):
    """A cylinder that one van used last and another used next.

    `last_g` is the last weight by the giver and `first_g` the first by the taker [g], each with the time of its move;
    None for what wasn't weighed. The difference is first minus last.
    """

    cylinder: str
    giver: Van
    taker: Van
    last_g: float | None
    last_at: str | None
    first_g: float | None
    first_at: str | None
    difference_g: float | None


def of_vans(visits: Sequence[Visit], vans: Vans, minor_digits: dict[str, int]) -> list[VanTotals]:
    """Visits, distance and money of each van; together those of all visits.

    Args:
        visits: the visits [list]
        vans: whose they are [Vans]
        minor_digits: decimals of the currencies that don't have two [count by code]

    Returns:
        a row for each van, that of nobody last [list]

    Raises:
        NoAmount: a price isn't a number.
    """
    return [{"van": van, "visits": len(own), "distance_km": totals.driven_km(own),
             "money": totals.money(own, minor_digits)} for van, own in vans.split(visits)]


def refrigerants(rows: Sequence[MassMoved], vans: Vans) -> list[VanRefrigerant]:
    """Masses by van and refrigerant; together those of all moves.

    Args:
        rows: as from `totals.moves` [list]
        vans: whose the visits are [Vans]

    Returns:
        a row for each van and refrigerant, that of nobody last [g, count]
    """
    return [{**total, "van": van} for van in _vans_of(rows, vans)
            for total in totals.refrigerants([row for row in rows if vans.of(row["visit"]) == van])]


def cylinders(rows: Sequence[MassMoved], vans: Vans) -> list[VanCylinder]:
    """Each cylinder's change of weight while a van had it, compared with the sum of that van's moves.

    A van that used a cylinder, gave it away and got it back isn't held to what happened in between: its change is the
    sum over the times when it had the cylinder. If one of them wasn't weighed, there is no sum.

    Args:
        rows: as from `totals.moves`, all moves of the cylinders [list]
        vans: whose the visits are [Vans]

    Returns:
        a row for each cylinder and van, by cylinder, the one without a name last [g]
    """
    found: list[VanCylinder] = []
    for total in totals.cylinders(rows):
        own = [row for row in rows if _cylinder_of(row) == total["cylinder"]]
        spells = _spells(own, vans) if total["cylinder"] else []
        for van in _vans_of(own, vans):
            # Nobody knows which cylinder the ones without a name were, so none of them went from hand to hand.
            parts = [part for holder, part in spells if holder == van] or [
                [row for row in own if vans.of(row["visit"]) == van]]
            found.append({**_joined([totals.cylinder(total["cylinder"], part) for part in parts]), "van": van})
    return found


def transfers(rows: Sequence[MassMoved], vans: Vans) -> list[Transfer]:
    """The cylinders that went from one van to another: consecutive moves by different technicians.

    With every weight taken, a cylinder's differences here and its changes in `cylinders` add up to its last weight
    minus its first.

    Args:
        rows: as from `totals.moves`, all moves of the cylinders [list]
        vans: whose the visits are [Vans]

    Returns:
        a row each time, by cylinder and time [list]
    """
    found: list[Transfer] = []
    for name in sorted({_cylinder_of(row) for row in rows} - {""}):
        spells = _spells([row for row in rows if _cylinder_of(row) == name], vans)
        found += [_transfer(name, giver, taker) for giver, taker in pairwise(spells)]
    return found


def _transfer(name: str, given: tuple[Van, list[MassMoved]], taken: tuple[Van, list[MassMoved]]) -> Transfer:
    after = [row for row in given[1] if row["move"].get("cylinder_after_g") is not None]
    before = [row for row in taken[1] if row["move"].get("cylinder_before_g") is not None]
    last_g = after[-1]["move"]["cylinder_after_g"] if after else None
    first_g = before[0]["move"]["cylinder_before_g"] if before else None
    return {"cylinder": name, "giver": given[0], "taker": taken[0],
            "last_g": last_g, "last_at": after[-1]["at"] if after else None,
            "first_g": first_g, "first_at": before[0]["at"] if before else None,
            "difference_g": first_g - last_g if first_g is not None and last_g is not None else None}


def _spells(rows: Sequence[MassMoved], vans: Vans) -> list[tuple[Van, list[MassMoved]]]:
    """One cylinder's moves, cut wherever the van changes."""
    return [(van, list(own)) for van, own in groupby(rows, key=lambda row: vans.of(row["visit"]))]


def _joined(parts: Sequence[CylinderTotals]) -> CylinderTotals:
    """One van's times with a cylinder as one row."""
    firsts = [part["first_g"] for part in parts if part["first_g"] is not None]
    lasts = [part["last_g"] for part in parts if part["last_g"] is not None]
    weighed, book = _sum([part["weighed_g"] for part in parts]), _sum([part["book_g"] for part in parts])
    return {"cylinder": parts[0]["cylinder"], "first_g": firsts[0] if firsts else None,
            "last_g": lasts[-1] if lasts else None, "weighed_g": weighed, "book_g": book,
            "difference_g": weighed - book if weighed is not None and book is not None else None}


def _sum(figures: Sequence[float | None]) -> float | None:
    known = [figure for figure in figures if figure is not None]
    return sum(known) if len(known) == len(figures) else None


def _vans_of(rows: Sequence[MassMoved], vans: Vans) -> list[Van]:
    return sorted({vans.of(row["visit"]) for row in rows}, key=order)


def _cylinder_of(row: MassMoved) -> str:
    return row["move"].get("cylinder") or ""
