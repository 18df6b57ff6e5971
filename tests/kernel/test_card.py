"""Cards: what visits say about a vehicle or customer, corrected beside them; conflicts kept; merges in any order."""

from __future__ import annotations

import itertools
from typing import Any

from sync.kernel.card import card_of, merged
from tests.support.ops import JUNE_12, Phone

Books = dict[str, Any]


def stated(at: int, **fields: Any) -> dict[str, Any]:
    """What one visit says."""
    return {"at": at, "fields": {"id": "v1", **fields}}


def test_the_later_statement_stands(rulebook: Books) -> None:
    """A correction overrides the visit before it, a visit the correction before it, field by field."""
    op = Phone(ms=JUNE_12 + 100).beside("vehicle.set", {"/plate": None, "/oil": None}, id="v1", plate="B", oil="PAG 46")
    visits = [stated(JUNE_12, plate="A", make="Wren"), stated(JUNE_12 + 1000, oil="PAG 100")]
    for order in (visits, visits[::-1]):
        found = card_of("vehicle", order, [op], rulebook["kinds"])
        assert found["fields"] == {"plate": "B", "make": "Wren", "oil": "PAG 100"}
        assert found["conflicts"] == []


def test_a_chart_that_travels_on_does_not_undo_its_correction(rulebook: Books) -> None:
    """Carried into a later visit unchanged, it is no news; entered differently there, it is."""
    old, right, new = ({"rows": [{"ambient_c": 30, "low_kpa_g": [150, high]}]} for high in (200, 250, 300))
    op = Phone(ms=JUNE_12 + 100).beside("vehicle.set", {"/chart": None}, id="v1", chart=right)
    first, later = stated(JUNE_12, chart=old, plate="A"), stated(JUNE_12 + 1000, chart=old, plate="A")
    for order in ([first, later], [later, first]):
        assert card_of("vehicle", order, [op], rulebook["kinds"])["fields"]["chart"] == right
    changed = stated(JUNE_12 + 1000, chart=new)
    found = card_of("vehicle", [first, changed], [op], rulebook["kinds"])
    assert found["fields"] == {"plate": "A", "chart": new}
    assert list(found["heads"]) == ["/chart"]


def test_a_correction_can_clear_a_field(rulebook: Books) -> None:
    """What was wrong, with nothing better known, is gone."""
    op = Phone(ms=JUNE_12 + 100).beside("customer.set", {"/email": None, "/units/pressure": None}, id="c1", email=None,
                                        units={"pressure": "bar"})
    said = [{"at": JUNE_12, "fields": {"id": "c1", "email": "a@b.example", "units": {"pressure": "psi"}}}]
    found = card_of("customer", said, [op], rulebook["kinds"])
    assert found["fields"] == {"units": {"pressure": "bar"}}


def test_corrections_that_disagree_are_both_kept_until_one_settles_them(rulebook: Books) -> None:
    """Two devices that hadn't seen each other; then a correction that names both."""
    one, other = Phone("aaaa"), Phone("bbbb", ms=JUNE_12 + 5)
    first = one.beside("vehicle.set", {"/vin": None}, id="v1", vin="1G4AH59H45G118341")
    second = other.beside("vehicle.set", {"/vin": None}, id="v1", vin="1G4AH59H45G118314")
    found = card_of("vehicle", [], [second, first], rulebook["kinds"])
    assert found["fields"] == {"vin": "1G4AH59H45G118341"}
    assert [value["op"] for value in found["conflicts"][0]["values"]] == [first["id"], second["id"]]
    both = [first["id"], second["id"]]
    settled = one.beside("vehicle.set", {"/vin": second["id"]}, id="v1", vin="1G4AH59H45G118314", of=both)
    for ops in itertools.permutations([first, second, settled]):
        found = card_of("vehicle", [], list(ops), rulebook["kinds"])
        assert (found["fields"], found["conflicts"]) == ({"vin": "1G4AH59H45G118314"}, [])


def test_mergings_chain_and_the_earlier_of_two_that_contradict_stands(rulebook: Books) -> None:
    """a under b, b under c; then c under a adds nothing to what was said before, in any order of arrival."""
    phone = Phone()
    ops = [phone.beside("customer.merge", keep=keep, drop=drop) for keep, drop in (("b", "a"), ("c", "b"), ("a", "c"))]
    for order in itertools.permutations(ops):
        assert merged(list(order), rulebook["kinds"]) == {"a": "c", "b": "c"}
    assert merged([phone.beside("customer.merge", keep="x", drop="x")], rulebook["kinds"]) == {}
