"""Cards of a logbook: filed beside the visits, deferred, refused, in conflict, merged, made again from the journal."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sync.records.logbook import Logbook
from sync.work import cards
from sync.work.intake import receive
from tests.support.ops import JUNE_12, Phone, body_of, uuid7

Books = dict[str, Any]


@pytest.fixture
def logbook(folder: Path, rulebook: Books) -> Iterator[Logbook]:
    """An empty logbook, open."""
    with Logbook(folder, rulebook, floor_bytes=0) as opened:
        yield opened


def file(logbook: Logbook, *ops: Any) -> list[dict[str, Any]]:
    """File operations; their results."""
    found: list[dict[str, Any]] = receive(logbook, body_of(*ops), JUNE_12)["results"]
    return found


def visit_of(phone: Phone, **parts: dict[str, Any]) -> list[dict[str, Any]]:
    """The operations of a visit that says something about its vehicle or customer."""
    visit = phone.new_id()
    base = {f"/{part}/{name}": None for part, fields in parts.items() for name in fields}
    return [phone.opening(visit), phone.op(visit, "visit.set", parts, base)]


def test_a_card_shows_its_visits_and_their_corrections(logbook: Logbook) -> None:
    """Two visits of a vehicle from two phones, then a correction; nothing is known of another."""
    one, other = Phone("aaaa"), Phone("bbbb", ms=JUNE_12 + 1000)
    first = visit_of(one, vehicle={"id": "v1", "plate": "LT 482", "make": "Wren"})
    second = visit_of(other, vehicle={"id": "v1", "plate": "LT 482", "oil": "PAG 46"})
    late = Phone("cccc", ms=JUNE_12 + 100_000_000)
    correction = late.beside("vehicle.set", {"/plate": None}, id="v1", plate="LT 428")
    assert [result["status"] for result in file(logbook, *first, *second, correction)] == ["accepted"] * 5
    found = cards.vehicle(logbook, "v1")
    assert found["fields"] == {"plate": "LT 428", "make": "Wren", "oil": "PAG 46"}
    assert found["visits"] == [second[0]["visit"], first[0]["visit"]]
    assert cards.vehicle(logbook, "v2")["fields"] == {}
    assert logbook.visit(first[0]["visit"])["vehicle"]["plate"] == "LT 482"


CHARTS: list[dict[str, Any]] = [{"rows": [{"ambient_c": 30, "low_kpa_g": [150, high]}]} for high in range(200, 205)]


def test_a_chart_is_offered_for_the_same_make_model_and_year(logbook: Logbook) -> None:
    """Regardless of capitals and spaces, each once, the newest visit's first; as corrected, and never its own."""
    phone = Phone()

    def car(identifier: str, **fields: Any) -> None:
        model = {"make": "Wren", "model": "Gannet 2", "year": 2008}
        ops = visit_of(phone, vehicle={"id": identifier, **model, **fields})
        assert {result["status"] for result in file(logbook, *ops)} == {"accepted"}

    def offered(identifier: str) -> list[Any]:
        return list(cards.charts_alike(logbook, cards.vehicle(logbook, identifier)))

    car("own", chart=CHARTS[0])
    assert offered("own") == []
    car("spaced", make=" WREN", model="gannet2", chart=CHARTS[1])
    car("twin", chart=CHARTS[1])
    car("newer", chart=CHARTS[2])
    car("later", year=2009, chart=CHARTS[3])
    car("other", make="Wren Gannet", model="2", chart=CHARTS[3])
    car("nameless", make=None, chart=CHARTS[3])
    car("bare")
    assert offered("own") == [CHARTS[2], CHARTS[1]]
    assert offered("bare") == [CHARTS[2], CHARTS[1], CHARTS[0]]
    assert offered("nameless") == []
    file(logbook, phone.beside("vehicle.set", {"/chart": None}, id="newer", chart=CHARTS[4]))
    assert offered("own") == [CHARTS[4], CHARTS[1]]
    file(logbook, phone.beside("vehicle.set", {"/year": None}, id="newer", year=2010))
    assert offered("own") == [CHARTS[1]]


def test_what_stands_beside_the_visits_is_judged_like_any_other(logbook: Logbook) -> None:
    """Conflict, unseen base, unseen visit, faults of shape, repeats."""
    one, other = Phone("aaaa"), Phone("bbbb")
    first = one.beside("customer.set", {"/phone": None}, id="c1", phone="555-0101")
    second = other.beside("customer.set", {"/phone": None}, id="c1", phone="555-0102")
    assert [result["status"] for result in file(logbook, first, second)] == ["accepted", "conflict"]
    assert len(cards.customer(logbook, "c1")["conflicts"]) == 1
    unseen = one.beside("customer.set", {"/phone": uuid7(5, 5)}, id="c1", phone="555-0103")
    mark = one.beside("baseline.mark", vehicle="v1", visit=uuid7(6, 6), test="b1", healthy=True)
    assert [result["problem"]["code"] for result in file(logbook, unseen, mark)] == ["base_not_seen", "visit_not_seen"]
    with_visit = {**one.beside("customer.merge", keep="c1", drop="c2"), "visit": uuid7(7, 7)}
    without = {**one.opening(uuid7(8, 8)), "visit": None}
    gone = {key: value for key, value in one.opening(uuid7(9, 9)).items() if key != "visit"}
    nameless = one.beside("vehicle.set", {"/plate": None}, plate="LT 482")
    told = file(logbook, with_visit, without, gone, nameless)
    faults = [[(fault["pointer"], fault["code"]) for fault in result["problem"]["errors"]] for result in told]
    assert faults == [
        [("/visit", "visit_not_wanted")], [("/visit", "null_not_allowed")], [("/visit", "missing")],
        [("/body/id", "missing")],
    ]
    assert [result["repeat"] for result in file(logbook, first, second, with_visit)] == [True] * 3
    both = [first["id"], second["id"]]
    settled = one.beside("customer.set", {"/phone": second["id"]}, id="c1", phone="555-0102", of=both)
    assert [result["status"] for result in file(logbook, settled)] == ["accepted"]
    found = cards.customer(logbook, "c1")
    assert (found["fields"], found["conflicts"]) == ({"phone": "555-0102"}, [])


def test_a_refused_correction_is_mended(logbook: Logbook) -> None:
    """A year that isn't a number; its replacement is filed beside the visits too."""
    phone = Phone()
    refused = phone.beside("vehicle.set", {"/year": None, "/plate": None}, id="v1", year="old", plate="LT 482")
    assert file(logbook, refused)[0]["status"] == "rejected"
    body = {"replaces": refused["id"], "kind": "vehicle.set", "body": {"id": "v1", "plate": "LT 482"}}
    mending = phone.op(None, "op.mend", body, {"/plate": None})
    assert file(logbook, mending)[0]["status"] == "accepted"
    assert cards.vehicle(logbook, "v1")["fields"] == {"plate": "LT 482"}


def test_the_visits_of_a_merged_customer_show_under_the_one_that_is_kept(logbook: Logbook) -> None:
    """By any id, before and after a further merge."""
    phones = [Phone(f"{number:04x}", ms=JUNE_12 + number * 1000) for number in range(3)]
    visits = [visit_of(phone, customer={"id": f"c{at}", "name": f"M. Okafor {at}"}) for at, phone in enumerate(phones)]
    file(logbook, *(op for ops in visits for op in ops))
    assert cards.customer(logbook, "c1")["visits"] == [visits[1][0]["visit"]]
    file(logbook, phones[0].beside("customer.merge", keep="c0", drop="c1"))
    file(logbook, phones[0].beside("customer.merge", keep="c0", drop="c2"))
    for name in ("c0", "c1", "c2"):
        found = cards.customer(logbook, name)
        assert (found["id"], found["ids"]) == ("c0", ["c0", "c1", "c2"])
        assert found["visits"] == [ops[0]["visit"] for ops in visits[::-1]]
    assert found["fields"]["name"] == "M. Okafor 2"


@pytest.mark.parametrize("lost", ["nothing", "cards", "months", "changes", "all"])
def test_cards_are_made_again_from_the_journal(folder: Path, rulebook: Books, lost: str) -> None:
    """Without their pages, with unreadable ones, and after a plain restart: the same cards."""
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        for number in range(12):
            phone = Phone(f"{number:04x}", ms=JUNE_12 + number * 90_000_000)
            names = {"id": f"c{number % 4}", "name": f"Name {number}"}
            file(logbook, *visit_of(phone, vehicle={"id": f"v{number % 5}", "plate": f"P {number}"}, customer=names))
            base = {"/plate": None}
            file(logbook, phone.beside("vehicle.set", base, id=f"v{number % 5}", plate=f"Q {number}"))
            file(logbook, phone.beside("customer.merge", keep=f"c{number % 2}", drop=f"c{number % 4}"))

        def picture(found: Logbook) -> Any:
            vehicles = [cards.vehicle(found, f"v{number}") for number in range(5)]
            return vehicles, [cards.customer(found, f"c{number}") for number in range(4)]

        expected = picture(logbook)
    pages = folder / "pages"
    if lost == "all":
        shutil.rmtree(pages)
    for name in {"cards": ["vehicles", "customers"], "months": ["months"], "changes": ["changes"]}.get(lost, []):
        for path in (pages / name).rglob("*.json"):
            path.write_text("{")
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        assert picture(logbook) == expected
