"""Whose a visit is, the sums of each van, and cylinders that change hands.

Worked out by hand, and over seeded random firms by what must be conserved; people and figures are invented.
"""

from __future__ import annotations

import itertools
import random
from typing import Any

import pytest

from sync.sheet import totals, van_totals
from sync.sheet.vans import Vans
from tests.support.ops import uuid7

ANA, BEN = uuid7(1_784_000_000_000, 1), uuid7(1_784_000_000_001, 2)
Visits = list[dict[str, Any]]


def visit(number: int, hour: str, technician: dict[str, str] | None, *moves: dict[str, Any]) -> dict[str, Any]:
    """A visit of 14 July at an hour, with its moves."""
    made: dict[str, Any] = {"id": f"v{number}", "schema": 1, "started_at": f"2026-07-14T{hour}+02:00"}
    if technician is not None:
        made["technician"] = technician
    return {**made, "refrigerant_moves": list(moves)} if moves else made


def move(kind: str, grams: float | None, cylinder: str, before: float | None, after: float | None) -> dict[str, Any]:
    """A move of R-134a; what is None wasn't weighed."""
    figures = {"grams": grams, "cylinder_before_g": before, "cylinder_after_g": after}
    return {"id": "m", "kind": kind, "refrigerant": "R134a", "cylinder": cylinder,
            **{name: figure for name, figure in figures.items() if figure is not None}}


def called(vans: Vans, visits: Visits) -> list[str]:
    """The label of each visit's van."""
    return [vans.of(one).label for one in visits]  # type: ignore[arg-type]


def vans_of(visits: Visits) -> Vans:
    """The vans of a period."""
    return Vans(visits)  # type: ignore[arg-type]


# Whose a visit is ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("named", "labels"), [
    # One id is one van, under the name it gave last.
    ([{"id": ANA, "name": "Ana Ruis"}, {"id": ANA, "name": "Ana Ruiz"}], ["Ana Ruiz", "Ana Ruiz"]),
    # Case and spaces tell nobody apart, nor does the way in which an accent is encoded.
    ([{"name": "José  Mar"}, {"name": " jose\u0301 MAR"}], ["jose\u0301 MAR", "jose\u0301 MAR"]),
    # A visit from before ids were given is the only Ana's; one id without a name is called as elsewhere.
    ([{"name": "ana ruiz"}, {"id": ANA, "name": "Ana Ruiz"}, {"id": ANA}, {"name": "ANA RUIZ"}], ["Ana Ruiz"] * 4),
    # Two of one name stay two, and nobody knows which of them the visit without an id is.
    ([{"id": ANA, "name": "Ana Ruiz"}, {"id": BEN, "name": "Ana Ruiz"}, {"name": "Ana Ruiz"}],
     [f"Ana Ruiz ({ANA[-4:]})", f"Ana Ruiz ({BEN[-4:]})", "Ana Ruiz"]),
    ([None, {}, {"business": "Alder Coast"}, {"id": ANA}], ["", "", "", ANA]),
])  # fmt: skip
def test_a_visit_is_its_technicians(named: list[dict[str, str] | None], labels: list[str]) -> None:
    """By id; without one by name."""
    visits = [visit(number, "09:00:00", one) for number, one in enumerate(named)]
    assert called(vans_of(visits), visits) == labels


@pytest.mark.parametrize(("wanted", "chosen"), [
    ("BEN OKORO", ["Ben Okoro"]), (" benokoro ", ["Ben Okoro"]), (BEN, ["Ben Okoro"]), ("Ben", []),
    ("Ana Ruis", ["Ana Ruiz"]), ("ana ruiz", ["Ana Ruiz"]), ("no technician", []),
])  # fmt: skip
def test_a_technician_is_chosen_by_id_or_by_any_name(wanted: str, chosen: list[str]) -> None:
    """The whole name, also an earlier one; not a part of it."""
    vans = vans_of([visit(1, "09:00:00", {"id": ANA, "name": "Ana Ruis"}),
                    visit(2, "10:00:00", {"id": ANA, "name": "Ana Ruiz"}),
                    visit(3, "11:00:00", {"id": BEN, "name": "Ben Okoro"}), visit(4, "12:00:00", None)])
    assert [van.label for van in vans.chosen(wanted)] == chosen


def test_each_van_can_be_chosen_by_what_it_offers() -> None:
    """By its name, or by its id where the name is another's too."""
    vans = vans_of([visit(1, "09:00:00", {"id": ANA, "name": "Ana Ruiz"}),
                    visit(2, "10:00:00", {"id": BEN, "name": "ana ruiz"}), visit(3, "11:00:00", {"name": "Cleo Dahl"})])
    offered = {van.chosen_by: van for name in ("Ana Ruiz", "Cleo Dahl") for van in vans.chosen(name)}
    assert set(offered) == {ANA, BEN, "Cleo Dahl"}
    assert all(vans.chosen(wanted) == [van] for wanted, van in offered.items())


# Cylinders that change hands -----------------------------------------------------------------------------------------

HANDED: Visits = [
    visit(1, "09:00:00", {"name": "Ana Ruiz"}, move("charged", 400.0, "B7", 9000.0, 8600.0)),
    visit(2, "10:00:00", {"name": "Ben Okoro"}, move("charged", 500.0, "B7", 8570.0, 8070.0)),
    visit(3, "11:00:00", {"name": "Ben Okoro"}, move("recovered", 300.0, "B7", 8070.0, None)),
    visit(4, "12:00:00", {"name": "Ana Ruiz"}, move("charged", 100.0, "B7", 8000.0, 7890.0)),
]


def test_a_cylinder_that_came_back_is_weighed_while_it_was_there() -> None:
    """Ana: 400 and 110 g out by the scale, 500 by the book. Ben: 500 out; 300 in that nobody weighed."""
    ana, ben = van_totals.cylinders(totals.moves(HANDED), vans_of(HANDED))  # type: ignore[arg-type]
    assert (ana["van"].label, ana["first_g"], ana["last_g"]) == ("Ana Ruiz", 9000.0, 7890.0)
    assert (ana["weighed_g"], ana["book_g"], ana["difference_g"]) == (-510.0, -500.0, -10.0)
    assert (ben["van"].label, ben["weighed_g"], ben["book_g"], ben["difference_g"]) == (
        "Ben Okoro", -500.0, -200.0, -300.0)


def test_a_transfer_holds_what_nobody_wrote_down() -> None:
    """30 g were gone when Ben weighed first, 70 g when Ana had it back, each with the times of the two weighings."""
    there, back = van_totals.transfers(totals.moves(HANDED), vans_of(HANDED))  # type: ignore[arg-type]
    assert (there["giver"].label, there["taker"].label, there["last_g"], there["first_g"]) == (
        "Ana Ruiz", "Ben Okoro", 8600.0, 8570.0)
    assert (there["last_at"], there["first_at"], there["difference_g"]) == (
        "2026-07-14T09:00:00+02:00", "2026-07-14T10:00:00+02:00", -30.0)
    assert (back["last_g"], back["last_at"], back["difference_g"]) == (8070.0, "2026-07-14T10:00:00+02:00", -70.0)


def test_a_transfer_that_was_not_weighed_has_no_difference() -> None:
    """Neither a weight before the first move nor one after the last is invented; a nameless cylinder goes nowhere."""
    visits = [visit(1, "09:00:00", {"name": "Ana Ruiz"}, move("charged", 400.0, "B7", 9000.0, None)),
              visit(2, "10:00:00", {"name": "Ben Okoro"}, move("charged", 500.0, "B7", 8570.0, None)),
              visit(3, "11:00:00", None, move("charged", 500.0, "B7", None, 7000.0),
                    move("charged", 9.0, "", 1.0, 2.0)),
              visit(4, "12:00:00", {"name": "Ben Okoro"}, move("charged", 20.0, "", 5000.0, 4980.0))]
    rows, vans = totals.moves(visits), vans_of(visits)  # type: ignore[arg-type]
    assert [(one["giver"].label, one["taker"].label, one["last_g"], one["first_g"], one["difference_g"])
            for one in van_totals.transfers(rows, vans)] == [
        ("Ana Ruiz", "Ben Okoro", None, 8570.0, None), ("Ben Okoro", "", None, None, None)]
    assert [(one["van"].label, one["cylinder"], one["weighed_g"], one["book_g"])
            for one in van_totals.cylinders(rows, vans)] == [
        ("Ana Ruiz", "B7", None, -400.0), ("Ben Okoro", "B7", None, -500.0), ("", "B7", None, -500.0),
        ("Ben Okoro", "", None, -20.0), ("", "", None, -9.0)]


def test_moves_are_put_in_order_by_the_instant() -> None:
    """10:30 at +02:00 is before 09:00 at -01:00, whatever the texts say."""
    late, early = visit(1, "09:00:00", {"name": "Ana"}, move("charged", 1.0, "B7", 10.0, 9.0)), visit(
        2, "10:30:00", {"name": "Ben"}, move("charged", 1.0, "B7", 11.0, 10.0))
    late["started_at"] = "2026-07-14T09:00:00-01:00"
    (one,) = van_totals.transfers(totals.moves([late, early]), vans_of([late, early]))  # type: ignore[list-item]
    assert (one["giver"].label, one["taker"].label, one["difference_g"]) == ("Ben", "Ana", 0.0)


# Whole firms ---------------------------------------------------------------------------------------------------------

PEOPLE = ({"id": ANA, "name": "Ana Ruiz"}, {"id": BEN, "name": "Ben Okoro"}, {"name": "Cleo Dahl"},
          {"name": "cleo  dahl"}, {"name": "Ben Okoro"}, None)


def firm(seed: int, share_weighed: float) -> Visits:
    """Visits of several vans that share five cylinders; a cylinder loses or gains a little between visits."""
    dice = random.Random(seed)
    weights = {f"B{number}": float(dice.randint(4000, 12000)) for number in range(5)}
    visits: Visits = []
    for number in range(dice.randint(2, 40)):
        moves = []
        for which in range(dice.randint(0, 3)):
            name, kind, grams = dice.choice([*weights, ""]), dice.choice(["charged", "recovered"]), dice.randint(5, 600)
            before = weights.get(name, 5000.0) + dice.randint(-40, 10)
            after = before + (grams if kind == "recovered" else -grams) + dice.randint(-9, 9)
            weights[name] = after
            seen = [value if dice.random() < share_weighed else None for value in (float(grams), before, after)]
            made = move(kind, seen[0], name, seen[1], seen[2])
            moves.append({**made, "id": f"m{which}", "refrigerant": dice.choice(["R134a", "R1234yf"])})
        hour = f"{8 + number // 6:02d}:{number % 6 * 10:02d}:00"
        made = visit(number, hour, dice.choice(PEOPLE), *moves)
        if dice.random() < 0.8:
            made["distance_km"] = float(dice.randint(1, 90))
        if dice.random() < 0.8:
            price, tax = f"{dice.randint(1, 30000) / 100:.2f}", dice.choice(["20", "5.5"])
            made |= {"currency": dice.choice(["EUR", "EUR", "JPY"]), "charges": [
                {"id": "p", "text": "Work", "quantity": "1.5", "unit_price": price, "tax_pct": tax}]}
            if dice.random() < 0.6:
                made["paid"] = {"method": "cash"}
        visits.append(made)
    return visits


@pytest.mark.parametrize("seed", range(60))
def test_the_technicians_add_up_to_the_firm(seed: int) -> None:
    """Visits, distance, money by currency, and grams of each refrigerant: nothing twice and nothing lost."""
    visits: Any = firm(seed, 0.8)
    rows, vans, digits = totals.moves(visits), vans_of(visits), {"JPY": 0}
    own = van_totals.of_vans(visits, vans, digits)
    assert len({row["van"] for row in own}) == len(own)
    assert sum(row["visits"] for row in own) == len(visits)
    assert sum(row["distance_km"] or 0 for row in own) == sum(one.get("distance_km", 0) for one in visits)
    for total in totals.money(visits, digits):
        parts = [part for row in own for part in row["money"] if part["currency"] == total["currency"]]
        for figure in ("net", "tax", "total", "unpaid"):
            assert sum(part[figure] for part in parts) == total[figure], figure
    by_van = van_totals.refrigerants(rows, vans)
    for whole in totals.refrigerants(rows):
        pieces = [row for row in by_van if row["refrigerant"] == whole["refrigerant"]]
        for mass in ("recovered_g", "charged_g", "unweighed"):
            assert sum(piece[mass] for piece in pieces) == whole[mass], mass
    recovered = sum(one.get("grams", 0) for two in visits for one in two.get("refrigerant_moves", [])
                    if one["kind"] == "recovered")
    assert sum(row["recovered_g"] for row in by_van) == recovered


@pytest.mark.parametrize("seed", range(60))
def test_what_is_weighed_is_conserved(seed: int) -> None:
    """Each van's change and each transfer's difference, of one cylinder, are its last weight minus its first."""
    visits: Any = firm(seed, 1.0)
    rows, vans = totals.moves(visits), vans_of(visits)
    own, handed = van_totals.cylinders(rows, vans), van_totals.transfers(rows, vans)
    for name in {row["move"]["cylinder"] for row in rows} - {""}:
        moved = [one for two in visits for one in two.get("refrigerant_moves", []) if one["cylinder"] == name]
        changes = [row["weighed_g"] for row in own if row["cylinder"] == name]
        changes += [row["difference_g"] for row in handed if row["cylinder"] == name]
        assert None not in changes
        assert sum(change or 0 for change in changes) == moved[-1]["cylinder_after_g"] - moved[0]["cylinder_before_g"]
    assert sum(row["book_g"] or 0 for row in own) == sum(row["book_g"] or 0 for row in totals.cylinders(rows))


@pytest.mark.parametrize("seed", range(30))
def test_a_row_for_each_change_of_hands(seed: int) -> None:
    """As many transfers as consecutive moves of a cylinder by different people; without a weight no difference."""
    visits: Any = firm(seed, 0.6)
    rows, vans = totals.moves(visits), vans_of(visits)
    handed = van_totals.transfers(rows, vans)
    person = {"Ana Ruiz": "a", "Ben Okoro": "b", "Cleo Dahl": "c", "cleo  dahl": "c"}
    changes = 0
    for name in {row["move"]["cylinder"] for row in rows} - {""}:
        hands = [person.get((one.get("technician") or {}).get("name", "")) for one in visits
                 for moved in one.get("refrigerant_moves", []) if moved["cylinder"] == name]
        changes += sum(one != two for one, two in itertools.pairwise(hands))
    assert len(handed) == changes
    assert all((row["difference_g"] is None) == (row["last_g"] is None or row["first_g"] is None) for row in handed)
